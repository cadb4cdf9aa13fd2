"""Slips in weighing and writing: the work was ordinary, the record is not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.facts import ShakeFacts
from workups.chemistry.plan import Extract

from .record import MassRecord
from .scenarios import Bench, Maker, Scenario, log_middles
from .weighing import (
    MISNUMBERED,
    TICKS_DIFFER,
    Offset,
    Reading,
    Rewriting,
    number_factor,
)

Array = NDArray[np.float64]

# What can be left on a pan [g], lowest and highest (estimates from common practice).
OBJECTS: Mapping[str, tuple[float, float]] = {
    "boiling chips": (0.05, 0.3),
    "label": (0.05, 0.2),
    "stir bar": (1.0, 8.0),
    "stopper": (5.0, 20.0),
    "cork ring": (20.0, 80.0),
}
OTHER_FLASK_G = (0.1, 5.0)
TICKED, NUMBERS_DIFFER = 0.3, 0.4


def swapped_tare(record: MassRecord) -> Sequence[tuple[float, MassRecord]]:
    """Each in the other's place."""
    gross = (record.tare,) * len(record.gross)
    return ((1.0, replace(record, tare=record.gross[-1], gross=gross)),)


def neighbours_swapped(mass_g: float, readability_g: float) -> list[float]:
    """The readings that differ from one by two neighbouring digits in each other's place.

    >>> neighbours_swapped(48.37, 0.01)
    [84.37, 43.87, 48.73]
    """
    counts = round(mass_g / readability_g)
    if counts <= 0:
        return []
    digits, found = str(counts), []
    for i in range(len(digits) - 1):
        if digits[i] != digits[i + 1]:
            turned = int(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :])
            found.append(round(turned * readability_g, 6))
    return found


def digits_swapped(record: MassRecord) -> Sequence[tuple[float, MassRecord]]:
    """Two neighbouring digits of the tare, or of one of the full readings, changed places."""
    found = []
    for value in (tares := neighbours_swapped(record.tare, record.readability_g)):
        found.append((0.5 / len(tares), replace(record, tare=value)))
    each = 0.5 / len(record.gross)
    for at, read in enumerate(record.gross):
        for value in (others := neighbours_swapped(read, record.readability_g)):
            gross = (*record.gross[:at], value, *record.gross[at + 1 :])
            found.append((each / len(others), replace(record, gross=gross)))
    return found


def thousandfold(record: MassRecord) -> Sequence[tuple[float, MassRecord]]:
    """Full readings, or all of them, in milligrams."""
    gross = tuple(g / 1000.0 for g in record.gross)
    both = replace(record, gross=gross, tare=record.tare / 1000.0)
    return ((0.4, replace(record, gross=gross)), (0.6, both))


def decimal_moved(record: MassRecord) -> Sequence[tuple[float, MassRecord]]:
    """The decimal point of the tare or of the last full reading is one place off."""
    found = []
    for times in (10.0, 0.1):
        gross = (*record.gross[:-1], record.gross[-1] * times)
        found.append((0.25, replace(record, tare=record.tare * times)))
        found.append((0.25, replace(record, gross=gross)))
    return found


def _rewritten(rewriting: Rewriting) -> Maker:
    def make(bench: Bench) -> Iterator[Scenario]:
        for target in bench.targets:
            yield Scenario(bench.sample, target, reading=Reading(rewritten=rewriting))

    return make


def _object(sign: float) -> Maker:
    """Something lay on the pan at one weighing only; ticked now and then."""

    def make(bench: Bench) -> Iterator[Scenario]:
        for target in bench.targets:
            for name, (low, high) in OBJECTS.items():
                sizes = log_middles(low, high, 12)
                offsets = tuple(
                    Offset(sign * float(g), 0.6 * float(g) * np.log(high / low) / 12, 1.0 / 12)
                    for g in sizes
                )
                reading = Reading(offsets=offsets, ticks=partial(_ticks, name, sign))
                yield Scenario(bench.sample, target, 1.0 / len(OBJECTS), reading)

    return make


def _ticks(name: str, sign: float, record: MassRecord) -> float:
    here, there = record.gross_extra, record.tare_extra
    extra, other = (here, there) if sign > 0 else (there, here)
    number = number_factor(record, MISNUMBERED)
    if not extra and not other:
        return (1.0 - TICKED) * number
    return (TICKED if extra == (name,) and not other else TICKS_DIFFER / 10.0) * number


def another_flask(bench: Bench) -> Iterator[Scenario]:
    """Two flasks of one kind differ by a tenth of a gram to a few grams."""
    sizes = log_middles(*OTHER_FLASK_G, 20)
    width = 0.6 * np.log(OTHER_FLASK_G[1] / OTHER_FLASK_G[0]) / 20
    offsets = tuple(
        Offset(s * float(g), width * float(g), 1.0 / 40) for g in sizes for s in (1.0, -1.0)
    )
    for target in bench.targets:
        yield Scenario(bench.sample, target, reading=Reading(offsets=offsets, ticks=_flask_ticks))


def _flask_ticks(record: MassRecord) -> float:
    ticks = TICKS_DIFFER if record.tare_extra or record.gross_extra else 1.0 - 2 * TICKS_DIFFER
    return ticks * number_factor(record, NUMBERS_DIFFER)


def volume_read_early(bench: Bench) -> Iterator[Scenario]:
    """The volume on record is that of the first extracts, or of the last one alone."""
    for _, step, facts in bench.case.of(Extract):
        if (step.id, step.keep_in) not in bench.volumes:
            continue
        extracts = [_kept_mL(s, step.keep)[: bench.case.inventory.count] for s in facts.shakes]
        together = list(accumulate(extracts))[:-1]
        for mL in (*together, *extracts[1:][-1:]):
            volumes = {**bench.sample.volumes_mL, (step.id, step.keep_in): mL}
            yield Scenario(replace(bench.sample, volumes_mL=volumes))


def _kept_mL(shake: ShakeFacts, keep: str) -> Array:
    """Volume of the layer that was kept [mL], (N,)."""
    organic_is_kept = (shake.organic_on_top > 0) == (keep == "upper")
    return np.where(organic_is_kept, shake.organic_mL, shake.aqueous_mL)


MAKERS: Mapping[str, Maker] = {
    "tare-gross-swapped": _rewritten(swapped_tare),
    "digits-swapped": _rewritten(digits_swapped),
    "volume-read-early": volume_read_early,
    "factor-1000": _rewritten(thousandfold),
    "wrong-decimal": _rewritten(decimal_moved),
    "object-at-gross": _object(1.0),
    "object-at-tare": _object(-1.0),
    "another-flask": another_flask,
}
