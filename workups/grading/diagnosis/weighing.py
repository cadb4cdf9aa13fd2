"""How well weighings fit what would be on the pan: net mass, and how the readings move."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.compiled import Vector, entry, inner

from .densities import cauchy, flask_density, normal
from .record import MassRecord
from .samples import Holding

Array = NDArray[np.float64]

# Share of the solvent and water left that goes between two readings of ordinary work, on a grid.
ORDINARY_FALLS = (0.0, 0.15, 0.3)
STEADY, STILL_FALLING = (0.0,), (0.15, 0.25, 0.35, 0.5)
ODD_TREND, ODD_TREND_SCALE_G = 0.02, 0.5
# How often ticks, or flask numbers, differ where the same stood on the pan (common practice, no
# source): a tick is forgotten more easily than a number is copied wrongly.
TICKS_DIFFER, MISNUMBERED = 0.01, 0.004


@dataclass(frozen=True)
class Offset:
    """Something that is added to every net mass [g]: its size, kernel width and weight.

    ``rises_g`` by how much the last reading exceeds the first for the same reason.
    """

    g: float
    width_g: float
    weight: float
    rises_g: float = 0.0


Rewriting = Callable[[MassRecord], Sequence[tuple[float, MassRecord]]]


def as_written(record: MassRecord) -> Sequence[tuple[float, MassRecord]]:
    """The readings were written as they were shown."""
    return ((1.0, record),)


def ordinary_ticks(record: MassRecord) -> float:
    """Probability of the ticks and flask numbers where they are alike on the pan."""
    p = TICKS_DIFFER if record.tare_extra or record.gross_extra else 1.0 - 2 * TICKS_DIFFER
    return p * number_factor(record, MISNUMBERED)


def number_factor(record: MassRecord, differ: float) -> float:
    """Probability of the flask numbers on record, where they differ with a probability."""
    return differ if record.other_flask_number else 1.0 - differ


@dataclass(frozen=True)
class Reading:
    """How what is on the pan becomes a record.

    ``falls`` grid of shares of solvent and water lost between readings; ``one_only`` probability
    that there is one full reading although more were asked for; ``offsets``; ``rewritten`` gives
    the readings that a record may have come from, with weights; ``ticks`` probability of the
    ticks.
    """

    falls: tuple[float, ...] = ORDINARY_FALLS
    one_only: float = 0.05
    offsets: tuple[Offset, ...] = (Offset(0.0, 0.0, 1.0),)
    rewritten: Rewriting = as_written
    ticks: Callable[[MassRecord], float] = ordinary_ticks


ORDINARY = Reading()


def mass_likelihood(
    record: MassRecord, held: Holding, width_g: float, reading: Reading, asked: int
) -> Array:
    """Density of tare and readings, draw by draw, (N,) [1/g^k].

    ``width_g`` kernel width of the draws; ``asked`` full readings that the plan asks for.
    """
    total = np.zeros(len(held.product))
    for weight, source in reading.rewritten(record):
        flask = weight * flask_density(source.tare)
        for offset in reading.offsets:
            part = _one(source, held, math.hypot(width_g, offset.width_g), reading.falls, offset)
            total = total + flask * offset.weight * part
    return total * count_factor(record, reading.one_only, asked) * reading.ticks(record)


def count_factor(record: MassRecord, one_only: float, asked: int) -> float:
    """Probability that there is one full reading, or that there are more."""
    if asked < 2:
        return 1.0
    return one_only if len(record.gross) == 1 else 1.0 - one_only


def _one(
    record: MassRecord, held: Holding, width_g: float, falls: Sequence[float], offset: Offset
) -> Array:
    """Density of the last net mass times that of the fall from the first reading to it."""
    between = len(record.gross) - 1
    sd = math.hypot(width_g, math.sqrt(2.0) * record.u_g)
    weighed = _Weighed(record.net_g - offset.g, sd, between,
                       record.fall_g + offset.rises_g if between else 0.0,
                       math.sqrt(2.0) * record.u_g)
    return np.asarray(_densities(
        held.mass_g, held.liquid_g, np.array(falls, dtype=np.float64), weighed))


class _Weighed(NamedTuple):
    """A net mass with its standard deviation, how many readings came before the last, and by how
    much they fell [g], with theirs."""

    net_g: float
    sd_g: float
    between: int
    fall_g: float
    fall_sd_g: float


@inner
def trend(off: Any, sd: Any) -> Any:
    """Density of how far the fall of the readings is off [g], with a tail for odd ones."""
    return (1.0 - ODD_TREND) * normal(off, sd) + ODD_TREND * cauchy(off, ODD_TREND_SCALE_G)


@entry
def _densities(mass_g: Vector, volatile_g: Vector, falls: Vector, weighed: _Weighed) -> Array:
    """Mean over the falls, draw by draw."""
    found = np.zeros(len(mass_g))
    for fall in falls:
        share = 1.0 - (1.0 - fall) ** weighed.between
        for n in range(len(mass_g)):
            gone = volatile_g[n] * share
            part = normal(weighed.net_g - (mass_g[n] - gone), weighed.sd_g)
            if weighed.between > 0:
                part *= trend(weighed.fall_g - gone, weighed.fall_sd_g)
            found[n] += part / len(falls)
    return found


def trend_density(record: MassRecord, expected_fall_g: Array) -> Array:
    """Density of the fall between first and last full reading, (N,)."""
    return np.asarray(trend(record.fall_g - expected_fall_g, math.sqrt(2.0) * record.u_g))
