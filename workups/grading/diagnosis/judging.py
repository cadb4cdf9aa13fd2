"""Likelihood of a whole bench record under the ways of one explanation."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import Extract

from .densities import cauchy, flask_density, log_normal
from .drying_marks import AS_NEEDED, drying_likelihood
from .record import BenchRecord, DryingSeen, MassRecord
from .samples import Holding
from .scenarios import Bench, Scenario
from .weighing import mass_likelihood, ordinary_ticks, trend_density
from .witnesses import witness_likelihood

Array = NDArray[np.float64]

# A volume is read by eye off a funnel or a flask without marks (common practice, no source).
_ODD_VOLUME, _VOLUME_SD, _VOLUME_READ_ML = 0.05, 0.10, 1.0
_MISCOUNTED = 0.02
_ELSE_SD, _ELSE_FLAT = 0.6, 0.5


@dataclass(frozen=True)
class Judged:
    """How likely a record is under an explanation, with the way that fits it best.

    ``likelihood`` is a density common to all explanations of the same record.
    """

    likelihood: float
    best: Scenario | None


def judged(bench: Bench, record: BenchRecord, ways: Sequence[Scenario]) -> Judged:
    """Likelihood of a record, ways weighted by their share."""
    total, best, highest = 0.0, None, -1.0
    weights = sum(w.weight for w in ways)
    for way in ways:
        found = way_likelihood(bench, record, way)
        total += way.weight / weights * found
        if found * way.weight > highest:
            best, highest = way, found * way.weight
    return Judged(total, best)


def way_likelihood(bench: Bench, record: BenchRecord, way: Scenario) -> float:
    """Density of the whole record if the work was done in one way."""
    found = drying_factor(record, way) * volume_factor(record, way.sample.volumes_mL)
    found *= portions_factor(bench, record, way)
    for mass in record.masses:
        found *= float(np.mean(target_density(bench, mass, way)))
    return found


def target_density(bench: Bench, mass: MassRecord, way: Scenario, witnesses: bool = True) -> Array:
    """Density of one target's weighings and witnesses, draw by draw."""
    mine = way.hit in ("", mass.target)
    held = way.sample.holdings[mass.target]
    width = math.hypot(bench.width_g[mass.target], way.width_g if mine else 0.0)
    found = mass_likelihood(
        mass,
        held,
        _narrowed(bench, mass.target, held, width),
        way.reading_of(mass.target),
        bench.asked[mass.target],
    )
    if witnesses and mass.noted:
        found = found * witness_likelihood(mass.noted, held, mass.target, bench.tables)
    return found


def likeliest_source(bench: Bench, mass: MassRecord, way: Scenario) -> MassRecord:
    """What was on the display, of all readings that this record may have been rewritten from."""

    def fits(source: MassRecord) -> float:
        known = replace(way, reading=replace(way.reading, rewritten=lambda _: ((1.0, source),)))
        return float(np.mean(target_density(bench, mass, known, witnesses=False)))

    return max((source for _, source in way.reading.rewritten(mass)), key=fits, default=mass)


def _narrowed(bench: Bench, target: str, held: Holding, width_g: float) -> float:
    """Kernel width in proportion to the mass where little is left."""
    ratio = held.usual_g / max(bench.sample.holdings[target].usual_g, 1e-9)
    return width_g * min(max(ratio, 0.02), 3.0)


def drying_factor(record: BenchRecord, way: Scenario) -> float:
    """Probability of all drying records."""
    return math.prod(drying_seen_factor(seen, way) for seen in record.drying)


def drying_seen_factor(seen: DryingSeen, way: Scenario) -> float:
    """Probability of one drying record."""
    how = way.drying.get(seen.step.id, AS_NEEDED)
    return drying_likelihood(seen, way.sample.drying.get(seen.step.id), how)


def volume_factor(record: BenchRecord, expected: Mapping[tuple[str, str], Array]) -> float:
    """Density of the volumes that were read off; those nothing is known of do not count."""
    return math.prod(
        volume_density(mL, expected[key])
        for key, mL in record.volumes_mL.items()
        if key in expected and mL > 0
    )


def volume_density(mL: float, expected: Array) -> float:
    """Density of one volume that was read off [1/mL], with a tail for odd ones."""
    sd = math.hypot(_VOLUME_SD, _VOLUME_READ_ML / mL)
    near, odd = log_normal(mL, expected, sd), log_normal(mL, expected, 1.0)
    return float(np.mean((1.0 - _ODD_VOLUME) * near + _ODD_VOLUME * odd))


def portions_factor(bench: Bench, record: BenchRecord, way: Scenario) -> float:
    """Probability of the portions that were written down; where none were, they do not count."""
    return math.prod(
        counted_factor(told, portions_done(bench, way, step))
        for step, told in record.portions.items()
    )


def counted_factor(told: int, done: int) -> float:
    """Probability of one count of portions that was written down."""
    return 1.0 - _MISCOUNTED if told == done else _MISCOUNTED


def portions_done(bench: Bench, way: Scenario, step_id: str) -> int:
    """Portions of an extraction if the work was done in one way."""
    planned = {s.id: s.portions for s in bench.plan.of(Extract)}
    return way.portions.get(step_id, planned.get(step_id, 1))


def something_else(bench: Bench, record: BenchRecord) -> float:
    """Density of a record if one target met with something that is not on the list."""
    plain = Scenario(bench.sample)
    shared = drying_factor(record, plain) * volume_factor(record, bench.sample.volumes_mL)
    shared *= portions_factor(bench, record, plain)
    ordinary = [float(np.mean(target_density(bench, m, plain))) for m in record.masses]
    total = 0.0
    for at, mass in enumerate(record.masses):
        others = math.prod(v for i, v in enumerate(ordinary) if i != at)
        total += others * _unknown(bench, mass)
    return shared * total / max(len(record.masses), 1)


def _unknown(bench: Bench, mass: MassRecord) -> float:
    """Any net mass: log-normal about the usual one, and a Cauchy tail on both sides."""
    held = bench.sample.holdings[mass.target]
    usual = max(held.usual_g, 0.01)
    near = float(log_normal(mass.net_g, np.array([usual]), _ELSE_SD)[0])
    tail = float(cauchy(mass.net_g - usual, 0.5 * usual))
    found = (1.0 - _ELSE_FLAT) * near + _ELSE_FLAT * tail
    if len(mass.gross) > 1:
        found *= float(np.mean(trend_density(mass, np.zeros(1))))
    asked = bench.asked[mass.target] > 1
    found *= (0.05 if len(mass.gross) == 1 else 0.95) if asked else 1.0
    ordinary = float(np.mean(witness_likelihood(mass.noted, held, mass.target, bench.tables)))
    anything = math.prod(0.05 if n.kind == "mp" else 0.4 for n in mass.noted)
    noted = 0.8 * ordinary + 0.2 * anything
    return found * noted * flask_density(mass.tare) * ordinary_ticks(mass)
