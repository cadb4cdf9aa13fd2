"""Likelihood of a whole bench record under the ways of one explanation."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .densities import cauchy, flask_density, log_normal
from .drying_marks import AS_NEEDED, drying_likelihood
from .record import BenchRecord, MassRecord
from .samples import Holding
from .ways import Bench, Way
from .weighing import ORDINARY, mass_likelihood, ordinary_ticks, trend_density
from .witnesses import witness_likelihood

Array = NDArray[np.float64]

_ODD_VOLUME, _VOLUME_SD, _VOLUME_READ_ML = 0.05, 0.06, 1.0
_ELSE_SD, _ELSE_FLAT = 0.6, 0.5


@dataclass(frozen=True)
class Judged:
    """How likely a record is under an explanation, with the way that fits it best.

    ``likelihood`` is a density common to all explanations of the same record.
    """

    likelihood: float
    best: Way | None


def judged(bench: Bench, record: BenchRecord, ways: Sequence[Way]) -> Judged:
    """Likelihood of a record, ways weighted by their share."""
    total, best, highest = 0.0, None, -1.0
    weights = sum(w.weight for w in ways)
    for way in ways:
        found = way_likelihood(bench, record, way)
        total += way.weight / weights * found
        if found * way.weight > highest:
            best, highest = way, found * way.weight
    return Judged(total, best)


def way_likelihood(bench: Bench, record: BenchRecord, way: Way) -> float:
    """Density of the whole record if the work was done in one way."""
    found = drying_factor(record, way) * volume_factor(record, way.sample.volumes_mL)
    for mass in record.masses:
        found *= float(np.mean(target_density(bench, mass, way)))
    return found


def target_density(bench: Bench, mass: MassRecord, way: Way, witnesses: bool = True) -> Array:
    """Density of one target's weighings and witnesses, draw by draw."""
    mine = way.hit in ("", mass.target)
    held = way.sample.holdings[mass.target]
    width = math.hypot(bench.width_g[mass.target], way.width_g if mine else 0.0)
    reading = way.reading if mine else ORDINARY
    found = mass_likelihood(
        mass, held, _narrowed(bench, mass.target, held, width), reading, bench.asked[mass.target]
    )
    if witnesses and mass.noted:
        found = found * witness_likelihood(mass.noted, held, mass.target, bench.tables)
    return found


def _narrowed(bench: Bench, target: str, held: Holding, width_g: float) -> float:
    """Kernel width in proportion to the mass where little is left."""
    usual = float(np.median(bench.sample.holdings[target].mass_g))
    ratio = float(np.median(held.mass_g)) / max(usual, 1e-9)
    return width_g * min(max(ratio, 0.02), 3.0)


def drying_factor(record: BenchRecord, way: Way) -> float:
    """Probability of all drying records."""
    found = 1.0
    for seen in record.drying:
        how = way.drying.get(seen.step.id, AS_NEEDED)
        found *= drying_likelihood(seen, way.sample.drying.get(seen.step.id), how)
    return found


def volume_factor(record: BenchRecord, expected: Mapping[tuple[str, str], Array]) -> float:
    """Density of the volumes that were read off; those nothing is known of do not count."""
    found = 1.0
    for key, mL in record.volumes_mL.items():
        if key in expected and mL > 0:
            sd = math.hypot(_VOLUME_SD, _VOLUME_READ_ML / mL)
            near = log_normal(mL, expected[key], sd)
            odd = log_normal(mL, expected[key], 1.0)
            found *= float(np.mean((1.0 - _ODD_VOLUME) * near + _ODD_VOLUME * odd))
    return found


def something_else(bench: Bench, record: BenchRecord) -> float:
    """Density of a record if one target met with something that is not on the list."""
    plain = Way(bench.sample)
    shared = drying_factor(record, plain) * volume_factor(record, bench.sample.volumes_mL)
    ordinary = [float(np.mean(target_density(bench, m, plain))) for m in record.masses]
    total = 0.0
    for at, mass in enumerate(record.masses):
        others = math.prod(v for i, v in enumerate(ordinary) if i != at)
        total += others * _unknown(bench, mass)
    return shared * total / max(len(record.masses), 1)


def _unknown(bench: Bench, mass: MassRecord) -> float:
    """Any net mass: log-normal about the usual one, and a Cauchy tail on both sides."""
    held = bench.sample.holdings[mass.target]
    usual = max(float(np.median(held.mass_g)), 0.01)
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
