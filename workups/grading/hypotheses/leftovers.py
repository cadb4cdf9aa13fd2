"""What stays in the product or leaves it at the end: solvent, acid, starting material, vapour."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

import numpy as np

from workups.chemistry.draws import Draws
from workups.chemistry.kinds import bottle
from workups.chemistry.plan import Collect, Step, Strip, Wash
from workups.chemistry.run import prepare
from workups.chemistry.setup import Spread

from ..orphans import without_washes
from .samples import Sample
from .ways import DRAWS, Bench, Maker, Way, middles, scaled
from .weighing import ORDINARY_FALLS, STEADY, STILL_FALLING, Offset, Reading

EARLY_PRESSURES = (1.0, 2.0, 4.0, 7.0)
MOST_MBAR = 900.0
TOO_LONG = ((20.0, 10.0), (60.0, 25.0), (150.0, 25.0))
SPILLED = (0.08, 0.95)
LESS_CONVERSION, CONVERSION_PARTS = 0.5, (0.1, 1.1)
WARM_G = (0.01, 0.08)


def _finishing(bench: Bench) -> Iterator[tuple[Strip | Collect, str]]:
    """The last step that takes liquid off each target, with the target."""
    for target in bench.case.exercise.setup.targets:
        last: Strip | Collect | None = None
        for step in bench.plan.steps:
            into = step.into if isinstance(step, Collect) else getattr(step, "flask", "")
            if isinstance(step, Strip | Collect) and target.flask in ("", into):
                last = step
        if last is not None:
            yield last, target.substance


def _early(step: Strip | Collect, times: float) -> Step:
    if isinstance(step, Collect):
        return replace(step, air_dry_min=step.air_dry_min / (1.0 + times))
    if step.method != "rotary":
        return replace(step, hold_min=0.5 * step.hold_min / times)
    return replace(step, hold_min=0.0, pressure_mbar=min(step.pressure_mbar * times, MOST_MBAR))


def _still_wet(bench: Bench, reading: Reading) -> Iterator[Way]:
    """Stripping or air-drying stopped early in degrees, and what lies between two of them."""
    for step, target in _finishing(bench):
        stops = [bench.tried(bench.plan.replacing(_early(step, t))) for t in EARLY_PRESSURES]
        found = [s for s in stops if s is not None]
        for here, there in pairwise(found):
            mixed = _between(here, there, 6)
            yield Way(mixed, target, reading=reading, width_g=_gap(here, there, target, 6))


def _between(here: Sample, there: Sample, count: int) -> Sample:
    parts = middles(0.0, 1.0, count)
    mixed = {t: h.between(there.holdings[t], parts) for t, h in here.holdings.items()}
    return replace(here, holdings=mixed)


def _gap(here: Sample, there: Sample, target: str, count: int) -> float:
    ends = [float(np.median(s.holdings[target].mass_g)) for s in (here, there)]
    return 0.5 * abs(ends[1] - ends[0]) / count


def solvent_left(bench: Bench) -> Iterator[Way]:
    """Solvent in the flask, and the readings agree because nothing was done between them."""
    yield from _still_wet(bench, Reading(falls=STEADY))


def not_constant(bench: Bench) -> Iterator[Way]:
    """Solvent in the flask, and the mass was still falling; often there is one reading only."""
    yield from _still_wet(bench, Reading(falls=STILL_FALLING, one_only=0.3))


def evaporated(bench: Bench) -> Iterator[Way]:
    """Stripped longer and warmer than on record."""
    for step, _ in _finishing(bench):
        if not isinstance(step, Strip):
            continue
        for minutes, warmer in TOO_LONG:
            long = replace(step, hold_min=step.hold_min + minutes, bath_C=step.bath_C + warmer)
            sample = bench.tried(bench.plan.replacing(long))
            if sample is not None:
                yield Way(sample)


def spilled(bench: Bench) -> Iterator[Way]:
    """A part of everything was lost."""
    for target in bench.targets:
        yield scaled(bench, target, middles(*SPILLED, 24))


def incomplete(bench: Bench) -> Iterator[Way]:
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
        yield Way(_between(bench.sample, sample, 10), width_g=max(gaps))


def acid_left(bench: Bench) -> Iterator[Way]:
    """The washes with base and plain water were left out, or had one portion fewer."""
    setup = bench.case.exercise.setup
    bottles = {s: bottle(s.material, setup) for s in bench.plan.steps if isinstance(s, Wash)}
    washes = [s for s, b in bottles.items() if b.is_base or not b.components]
    if not washes:
        return
    fewer = bench.plan
    for step in washes:
        fewer = fewer.replacing(replace(step, portions=max(1, step.portions - 1)))
    for plan in (without_washes(bench.plan, *(s.id for s in washes)), fewer):
        sample = bench.tried(plan) if plan != bench.plan else None
        if sample is not None:
            yield Way(sample)


def warm(bench: Bench) -> Iterator[Way]:
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
        yield Way(bench.sample, target, reading=reading)


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
