"""How likely the recorded mass is under each slip: densities [1/g] at the net mass found.

Technique slips that change the plan are re-simulated on the plan as done. Losses and additions
that no plan shows are spread over the range that practice knows (grade P). A slip in writing
puts the mass that was meant in its place. Everything else has a heavy tail around the expected
mass.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.draws import Draws
from workups.chemistry.measures import measure
from workups.chemistry.plan import Dry, Extract, Filter, Plan, Strip, Transfer
from workups.chemistry.readings import Weighing
from workups.chemistry.run import continue_run, prepare
from workups.chemistry.setup import Spread
from workups.chemistry.speciation import NotConverged
from workups.chemistry.steps import MissingFlask

from ..case import Case
from ..numbers import balance_decimals

Array = NDArray[np.float64]
DRAWS = 40
GRID = 16
SHIFTS_G: Mapping[str, tuple[float, float]] = {
    "boiling chips": (0.05, 0.3),
    "label": (0.05, 0.2),
    "stir bar": (1.0, 8.0),
    "stopper": (5.0, 20.0),
    "cork ring": (20.0, 80.0),
}
OTHER_FLASK_G = (0.1, 5.0)
WARM_G = (0.005, 0.08)


@dataclass(frozen=True)
class Found:
    """What was found for one target: net mass and its uncertainty [g], and the weighings."""

    net_g: float
    u_g: float
    weighings: tuple[Weighing, ...]


class MassModel:
    """Densities of the mass of one target, for a plan as it was carried out."""

    def __init__(self, done: Case, target: str, found: Found) -> None:
        self.target, self.found = target, found
        seed = done.inventory.draws.seed
        start = prepare(done.exercise.setup, Draws(seed, DRAWS))
        self.case = Case(done.exercise, done.plan, continue_run(start, done.plan))
        self.measure = measure(self.case.run, target)
        self.base = self.measure.mass_g

    def density(self, samples: Array, at: float | None = None) -> float:
        """Kernel density [1/g] of sampled masses at the mass found (or at another)."""
        x = self.found.net_g if at is None else at
        spread = float(np.std(samples)) * len(samples) ** -0.2
        width = np.hypot(max(spread, 0.004 * float(np.mean(np.abs(samples)))), self.found.u_g)
        kernel = np.exp(-0.5 * ((x - samples) / width) ** 2) / (width * np.sqrt(2.0 * np.pi))
        return float(np.mean(kernel))

    def scaled(self, low: float, high: float) -> Array:
        """The expected mass times a share that is anywhere between two values."""
        shares = np.linspace(low, high, GRID)
        return np.asarray((self.base[:, None] * shares[None, :]).ravel())

    def shifted(self, low: float, high: float, sign: float = 1.0) -> Array:
        """The expected mass with something added (or missing), evenly in its logarithm [g]."""
        extra = np.geomspace(low, high, GRID)
        return np.asarray((self.base[:, None] + sign * extra[None, :]).ravel())

    def simulated(self, plan: Plan) -> Array:
        """Mass with a changed plan; empty where it cannot be carried out."""
        try:
            run = continue_run(self.case.run, plan)
        except (MissingFlask, NotConverged):
            return np.zeros(0)
        return measure(run, self.target).mass_g

    def expected_of(self, samples: Array) -> tuple[float, float, float]:
        """Median, 5th and 95th percentile of sampled masses [g]."""
        low, middle, high = np.percentile(samples, [5, 50, 95])
        return float(middle), float(low), float(high)


def _one_change(model: MassModel, plans: Sequence[Plan]) -> Array:
    samples = [s for s in map(model.simulated, plans) if s.size]
    return np.concatenate(samples) if samples else np.zeros(0)


def _extracts(model: MassModel) -> list[Extract]:
    return [s for s in model.case.plan.steps if isinstance(s, Extract) and s.portions > 1]


def _single(model: MassModel) -> Array:
    plan = model.case.plan
    return _one_change(
        model,
        [
            plan.replacing(replace(s, portions=1, volume_mL=s.volume_mL * s.portions))
            for s in _extracts(model)
        ],
    )


def _one_fewer(model: MassModel) -> Array:
    plan = model.case.plan
    return _one_change(
        model,
        [
            plan.replacing(replace(s, portions=s.portions - 1))
            for s in _extracts(model)
            if s.portions > 2
        ],
    )


def _first_only(model: MassModel) -> Array:
    plan = model.case.plan
    return _one_change(model, [plan.replacing(replace(s, portions=1)) for s in _extracts(model)])


def _no_rinse(model: MassModel) -> Array:
    steps = tuple(
        replace(s, rinses=0) if isinstance(s, Filter | Transfer) else s
        for s in model.case.plan.steps
    )
    return model.simulated(Plan(steps)) if steps != model.case.plan.steps else np.zeros(0)


def _no_agent(model: MassModel) -> Array:
    plan = model.case.plan
    return _one_change(model, [plan.without(s.id) for s in plan.steps if isinstance(s, Dry)])


def _little_agent(model: MassModel) -> Array:
    plan = model.case.plan
    return _one_change(
        model,
        [
            plan.replacing(replace(s, endpoint="weighed", mass_g=m))
            for s in plan.steps
            if isinstance(s, Dry)
            for m in (0.1, 0.3)
        ],
    )


def _agent_in(model: MassModel) -> Array:
    plan = model.case.plan
    dried = {s.flask for s in plan.steps if isinstance(s, Dry)}
    return _one_change(
        model,
        [
            plan.replacing(Transfer(id=s.id, flask=s.flask, into=s.into))
            for s in plan.steps
            if isinstance(s, Filter) and s.flask in dried
        ],
    )


def _agent_g(model: MassModel) -> float:
    masses = [
        float(o.facts.drying.mass_g[0])
        for o in model.case.run.outcomes
        if o.facts.drying is not None
    ]
    return max(masses, default=0.0)


def _fines(model: MassModel) -> Array:
    agent = _agent_g(model)
    return model.shifted(0.02 * agent, 0.3 * agent) if agent > 0 else np.zeros(0)


def _solvent_left(model: MassModel) -> Array:
    if not any(isinstance(s, Strip) for s in model.case.plan.steps):
        return np.zeros(0)
    shares = np.geomspace(0.02, 0.6, GRID)
    return np.asarray((model.base[:, None] * (1.0 + shares[None, :])).ravel())


def _incomplete(model: MassModel) -> Array:
    setup = model.case.exercise.setup
    usual = setup.reaction.conversion.nominal
    if not setup.reaction.products or usual <= 0:
        return np.zeros(0)
    samples = []
    for part in (0.5, 0.75):
        share = usual * part
        spread = Spread(share * 0.9, share, min(1.0, share * 1.1))
        changed = replace(setup, reaction=replace(setup.reaction, conversion=spread))
        start = prepare(changed, Draws(model.case.inventory.draws.seed, DRAWS))
        samples.append(measure(continue_run(start, model.case.plan), model.target).mass_g)
    return np.concatenate(samples)


TECHNIQUE: Mapping[str, Callable[[MassModel], Array]] = {
    "nothing-wrong": lambda m: m.base,
    "single-portion": _single,
    "one-portion-fewer": _one_fewer,
    "later-extractions-skipped": _first_only,
    "not-mixed": lambda m: m.scaled(0.5, 0.97),
    "layer-partly-lost": lambda m: m.scaled(0.4, 0.97),
    "wash-took-product": lambda m: m.scaled(0.6, 0.98),
    "no-rinse": _no_rinse,
    "no-agent": _no_agent,
    "too-little-agent": _little_agent,
    "agent-in-flask": _agent_in,
    "fines": _fines,
    "solvent-left": _solvent_left,
    "not-constant": _solvent_left,
    "product-evaporated": lambda m: m.scaled(0.1, 0.92),
    "spilled": lambda m: m.scaled(0.2, 0.96),
    "aqueous-carried-over": lambda m: m.shifted(0.02, 1.5),
    "incomplete-reaction": _incomplete,
    "acid-left": lambda m: m.shifted(0.05, 2.0),
    "wrong-layer": lambda m: m.scaled(0.0, 0.12),
    "weighed-warm": lambda m: m.shifted(*WARM_G, sign=-1.0),
}


def _objects(model: MassModel, sign: float) -> float:
    """Something on the pan at one weighing only: any of the usual objects."""
    return float(
        np.mean([model.density(model.shifted(*span, sign=sign)) for span in SHIFTS_G.values()])
    )


def _other_flask(model: MassModel) -> float:
    heavier, lighter = (model.density(model.shifted(*OTHER_FLASK_G, sign=s)) for s in (1.0, -1.0))
    return 0.5 * (heavier + lighter)


def neighbours_swapped(mass_g: float, decimals: int) -> Iterator[float]:
    """The mass with two neighbouring, unlike digits in each other's place, every way.

    >>> list(neighbours_swapped(48.37, 2))
    [84.37, 43.87, 48.73]
    """
    text = f"{mass_g:.{decimals}f}"
    places = [i for i, sign in enumerate(text) if sign.isdigit()]
    for a, b in pairwise(places):
        if text[a] != text[b]:
            signs = list(text)
            signs[a], signs[b] = signs[b], signs[a]
            yield float("".join(signs))


def _rewritten(model: MassModel, versions: Callable[[Weighing], Iterator[float]]) -> float:
    """Mean density over all ways in which one reading may have been meant differently."""
    found, densities = model.found, []
    readings = [w for w in found.weighings if w.kind in ("tare", "gross")]
    for weighing in readings:
        same_kind = sum(1 for w in readings if w.kind == weighing.kind)
        sign = 1.0 if weighing.kind == "gross" else -1.0
        for meant in versions(weighing):
            net = found.net_g + sign * (meant - weighing.mass_g) / same_kind
            densities.append(model.density(model.base, net))
            densities.append(
                model.density(model.base, found.net_g + sign * (meant - weighing.mass_g))
            )
    return float(np.mean(densities)) if densities else 0.0


def _digits(weighing: Weighing) -> Iterator[float]:
    yield from neighbours_swapped(weighing.mass_g, balance_decimals(weighing.readability_g))


def _decimal(weighing: Weighing) -> Iterator[float]:
    yield weighing.mass_g / 10.0
    yield weighing.mass_g * 10.0


RECORDING: Mapping[str, Callable[[MassModel], float]] = {
    "tare-gross-swapped": lambda m: m.density(m.base, -m.found.net_g),
    "digits-swapped": lambda m: _rewritten(m, _digits),
    "factor-1000": lambda m: (
        0.5
        * (
            m.density(m.base, m.found.net_g / 1000.0) / 1000.0
            + m.density(m.base, m.found.net_g * 1000.0) * 1000.0
        )
    ),
    "wrong-decimal": lambda m: _rewritten(m, _decimal),
    "object-at-gross": lambda m: _objects(m, 1.0),
    "object-at-tare": lambda m: _objects(m, -1.0),
    "another-flask": _other_flask,
}


def something_else(model: MassModel) -> float:
    """The unknown: a Cauchy density about the expected mass, as wide as half of it [1/g]."""
    middle = float(np.median(model.base))
    scale = 0.5 * max(abs(middle), 0.05)
    return float(1.0 / (np.pi * scale * (1.0 + ((model.found.net_g - middle) / scale) ** 2)))


__all__ = ["RECORDING", "TECHNIQUE", "Found", "MassModel", "neighbours_swapped", "something_else"]
