"""What stays in the product or leaves it at the end: solvent, acid, starting material, vapour."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.draws import Draws
from workups.chemistry.kinds import bottle
from workups.chemistry.plan import Collect, Plan, Strip, Wash
from workups.chemistry.run import prepare
from workups.chemistry.setup import Spread

from ..rules.rewriting import without_washes
from .samples import Holding, Sample
from .scenarios import DRAWS, Bench, Maker, Scenario, log_middles, middles, scaled
from .weighing import ORDINARY_FALLS, STEADY, STILL_FALLING, Offset, Reading

Array = NDArray[np.float64]

# Liquid left over what is in the flask beside it, evenly likely in the logarithm from what one
# could notice to as much again; and how often it is more than that (common practice, no source).
LEFT_SHARES, MORE_THAN_PRODUCT = (0.01, 0.03, 0.1, 0.3, 1.0), 0.15
LEVELS = 6
NOTICED_G = 0.01
TOO_LONG = ((20.0, 10.0), (60.0, 25.0), (150.0, 25.0))
SPILLED = (0.08, 0.95)
LESS_CONVERSION = 0.5
WARM_G = (0.01, 0.08)


def _finishing(bench: Bench) -> Iterator[tuple[Strip | Collect, str]]:
    """The last step that takes liquid off each target, with the target."""
    for target in bench.case.exercise.setup.targets:
        ends = [
            step for step in bench.plan.steps if isinstance(step, Strip | Collect)
            and target.flask in ("", *(step.carries_on_in() or step.takes()))]
        if ends:
            yield ends[-1], target.substance


def _not_begun(step: Strip | Collect) -> Callable[[Plan], Plan]:
    """The plan as it stands before a step has taken any liquid off."""
    if isinstance(step, Collect):
        return lambda plan: plan.replacing(replace(step, air_dry_min=0.0))
    return lambda plan: plan.without(step.id)


def _still_wet(bench: Bench, reading: Reading) -> Iterator[Scenario]:
    """The last step that takes liquid off stopped anywhere on its way, from before it had begun.

    On the way every component leaves in proportion to its own vapour pressure, so between the
    two ends each follows its own geometric path (``chemistry.stripping``).
    """
    for step, target in _finishing(bench):
        wet = bench.tried(_not_begun(step)(bench.plan))
        if wet is None:
            continue
        before, after = wet.holdings[target], bench.sample.holdings[target]
        for low, high, weight in _amounts_left(before, after):
            grams = log_middles(low, high, LEVELS)
            held = before.towards(after, _way_along(before, after, grams))
            yield Scenario(
                bench.sample.holding(target, held),
                target,
                weight,
                reading,
                width_g=0.4 * (high - low) / LEVELS,
            )


def _amounts_left(before: Holding, after: Holding) -> Iterator[tuple[float, float, float]]:
    """Ranges of liquid left [g], lowest and highest, with weights: from what one could notice, or
    what is left as planned, to all that there was."""
    dry = float(np.median(after.mass_g - after.liquid_g))
    most, least = float(np.median(before.liquid_g)), float(np.median(after.liquid_g))
    edges = [max(LEFT_SHARES[0] * dry, least), *(share * dry for share in LEFT_SHARES[1:])]
    for low, high in pairwise(edges):
        if low < (to := min(high, most)):
            yield low, to, (1.0 - MORE_THAN_PRODUCT) * math.log(to / low)
    # Beside nothing at all, from what a balance shows.
    if most > (low := max(dry, least, NOTICED_G)):
        wide = math.log(LEFT_SHARES[-1] / LEFT_SHARES[0])
        middle = math.sqrt(low * most)
        yield low, middle, MORE_THAN_PRODUCT * wide / 2
        yield middle, most, MORE_THAN_PRODUCT * wide / 2


def _way_along(before: Holding, after: Holding, grams: Array) -> Array:
    """How far along the way each draw has each amount left, (N, amounts), 0 the beginning."""
    most = np.maximum(before.liquid_g, 1e-9)[:, None]
    least = np.clip(after.liquid_g[:, None], 1e-6 * most, 0.999 * most)
    return np.asarray(np.clip(np.log(most / grams) / np.log(most / least), 0.0, 1.0))


def _between(here: Sample, there: Sample, count: int) -> Sample:
    parts = middles(0.0, 1.0, count)
    mixed = {t: h.between(there.holdings[t], parts) for t, h in here.holdings.items()}
    return replace(here, holdings=mixed)


def _gap(here: Sample, there: Sample, target: str, count: int) -> float:
    ends = [float(np.median(s.holdings[target].mass_g)) for s in (here, there)]
    return 0.5 * abs(ends[1] - ends[0]) / count


def solvent_left(bench: Bench) -> Iterator[Scenario]:
    """Solvent in the flask, and the readings agree because nothing was done between them."""
    yield from _still_wet(bench, Reading(falls=STEADY))


def not_constant(bench: Bench) -> Iterator[Scenario]:
    """Solvent in the flask, and the mass was still falling; often there is one reading only."""
    yield from _still_wet(bench, Reading(falls=STILL_FALLING, one_only=0.3))


def evaporated(bench: Bench) -> Iterator[Scenario]:
    """Stripped longer and warmer than on record."""
    for step, _ in _finishing(bench):
        if not isinstance(step, Strip):
            continue
        for minutes, warmer in TOO_LONG:
            long = replace(step, hold_min=step.hold_min + minutes, bath_C=step.bath_C + warmer)
            sample = bench.tried(bench.plan.replacing(long))
            if sample is not None:
                yield Scenario(sample)


def spilled(bench: Bench) -> Iterator[Scenario]:
    """A part of everything was lost."""
    for target in bench.targets:
        yield scaled(bench, target, middles(*SPILLED, 24))


def incomplete(bench: Bench) -> Iterator[Scenario]:
    """Less of the starting material turned over; between two conversions what lies between."""
    setup = bench.case.exercise.setup
    usual = setup.reaction.conversion.nominal
    if not setup.reaction.products or usual <= 0:
        return
    low = LESS_CONVERSION * usual
    less = replace(setup, reaction=replace(setup.reaction, conversion=Spread(low, low, low)))
    draws = bench.case.inventory.draws
    start = prepare(less, Draws(draws.seed, min(DRAWS, draws.count), draws.start))
    sample = bench.tried(bench.plan, start)
    if sample is not None:
        gaps = [_gap(bench.sample, sample, t, 10) for t in bench.targets]
        yield Scenario(_between(bench.sample, sample, 10), width_g=max(gaps))


def acid_left(bench: Bench) -> Iterator[Scenario]:
    """The washes with base and plain water were left out, or had one portion fewer."""
    setup = bench.case.exercise.setup
    bottles = {s: bottle(s.material, setup) for s in bench.plan.of(Wash)}
    washes = [s for s, b in bottles.items() if b.is_base or not b.components]
    if not washes:
        return
    fewer = bench.plan
    for step in washes:
        fewer = fewer.replacing(replace(step, portions=max(1, step.portions - 1)))
    for plan in (without_washes(bench.plan, *(s.id for s in washes)), fewer):
        sample = bench.tried(plan) if plan != bench.plan else None
        if sample is not None:
            yield Scenario(sample)


def warm(bench: Bench) -> Iterator[Scenario]:
    """Warm air around a warm flask lifts it: light at first, less so later."""
    offsets = []
    for light in np.exp(middles(np.log(WARM_G[0]), np.log(WARM_G[1]), 5)):
        for left in (0.2, 0.45):
            offsets.append(
                Offset(-float(light) * left, 0.1 * float(light), 0.1, float(light) * (1.0 - left))
            )
    for step, target in _finishing(bench):
        if not isinstance(step, Strip):
            continue
        alone = bench.asked[target] < 2
        reading = Reading(
            falls=ORDINARY_FALLS,
            one_only=0.05,
            offsets=tuple(_one_reading(o) for o in offsets) if alone else tuple(offsets),
        )
        yield Scenario(bench.sample, target, reading=reading)


def _one_reading(offset: Offset) -> Offset:
    """The same where there is no later reading: all of it counts."""
    return replace(offset, g=offset.g - offset.rises_g, rises_g=0.0)


MAKERS: Mapping[str, Maker] = {
    "solvent-left": solvent_left,
    "not-constant": not_constant,
    "product-evaporated": evaporated,
    "spilled": spilled,
    "incomplete-reaction": incomplete,
    "acid-left": acid_left,
    "weighed-warm": warm,
}
