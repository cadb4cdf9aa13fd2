"""Slips in writing a weighing down, undone: the entry as it was probably meant.

A slip is looked for only where the record cannot be as it is written: less than nothing, more
than everything that was put in, or full readings that contradict each other. Then one entry, or
one kind of entry, is put right at a time: tare and gross in each other's place, milligrams in a
field for grams, a decimal point one place off, two neighbouring digits that changed places.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import chain

from workups.chemistry.readings import Readings, TargetReadings
from workups.chemistry.setup import Glassware
from workups.chemistry.yields import Mass, is_constant, product_mass

from ..diagnosis.recording import neighbours_swapped

_OTHER = {"tare": "gross", "gross": "tare"}
_MILLIGRAMS, _PLACES = 1000.0, (10.0, 0.1)
# Words for a slip in writing (common practice, no source).
_SLIP_WORDS = re.compile(
    r"swap|exchang|each other|mixed? up|typ(o|ed)|mis(read|typed|wrote|written|took)"
    r"|wrong (place|row|field|order|unit|line)|decimal|milligram|\bmg\b|digit|entered wrong",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Undone:
    """A record with one slip undone.

    ``words`` ask about it. ``is_certain`` where the slip leaves one reading only; of decimals and
    digits there are many, so that one of them fits by chance now and then.
    """

    words: str
    record: TargetReadings
    is_certain: bool


def slips_undone(record: TargetReadings) -> Iterator[Undone]:
    """All ways to put one slip of a record right."""
    swapped = tuple(replace(w, kind=_OTHER[w.kind]) for w in record.weighings)
    yield Undone(
        "Were tare and gross written in each other's place?",
        replace(record, weighings=swapped),
        True,
    )
    for chosen in _groups(record):
        milligrams = _scaled(record, chosen, 1.0 / _MILLIGRAMS)
        yield Undone("Was a mass in milligrams entered as grams?", milligrams, True)
    for chosen in _groups(record):
        for times in _PLACES:
            moved = _scaled(record, chosen, times)
            yield Undone("Is the decimal point of an entry in the right place?", moved, False)
    for at, weighing in enumerate(record.weighings):
        for value in neighbours_swapped(weighing.mass_g, weighing.readability_g):
            turned = _scaled(record, (at,), value / weighing.mass_g)
            yield Undone(f"Did two digits of the {weighing.kind} change places?", turned, False)


def _groups(record: TargetReadings) -> list[tuple[int, ...]]:
    """Positions that one slip can touch: all entries, all of a kind, or a single one."""
    everything = range(len(record.weighings))
    kinds = [tuple(i for i in everything if record.weighings[i].kind == k) for k in _OTHER]
    groups = [tuple(everything), *kinds, *((i,) for i in everything)]
    return list(dict.fromkeys(g for g in groups if g))


def _scaled(record: TargetReadings, chosen: tuple[int, ...], times: float) -> TargetReadings:
    return replace(
        record,
        weighings=tuple(
            replace(w, mass_g=round(w.mass_g * times, 6)) if i in chosen else w
            for i, w in enumerate(record.weighings)
        ),
    )


def cannot_be(mass: Mass, charged_g: float) -> bool:
    """Whether a mass [g] is below nothing, or above all that was put in, beyond doubt (2 u)."""
    return mass.g + 2.0 * mass.u_g < 0.0 or mass.g - 2.0 * mass.u_g > charged_g


def put_right(
    record: TargetReadings,
    glassware: Glassware,
    charged_g: float,
    most_g: float,
    points: Callable[[Mass], float],
) -> tuple[Undone, Mass] | None:
    """The slip that a record was probably written with, and the mass without it; else None.

    Parameters
    ----------
    record : the weighings as written.
    glassware : with the balance.
    charged_g : all that was put into the reaction, or what the steps lead to if that is more [g].
    most_g : what the flask may hold at most [g].
    points : of a mass, 0..1. A slip that leads to full points is taken first; without one, a
        slip that is certain and leads to any.
    """
    mass = product_mass(record, glassware, most_g)
    if mass is None:
        return None
    impossible = cannot_be(mass, charged_g)
    in_order = points(mass) >= 1.0 or is_constant(record.weighings) is not False
    if not impossible and in_order:
        return None
    possible: list[tuple[Undone, Mass]] = []
    for slip in slips_undone(record):
        found = product_mass(slip.record, glassware, most_g)
        if found is None or not 0.0 < found.g <= most_g:
            continue
        if impossible or is_constant(slip.record.weighings):
            possible.append((slip, found))
    fitting = (p for p in possible if points(p[1]) >= 1.0)
    certain = (p for p in possible if p[0].is_certain and impossible and points(p[1]) > 0.0)
    return next(chain(fitting, certain), None)


def says_slip(record: TargetReadings, readings: Readings) -> bool:
    """Whether the student speaks of a slip in writing, in the report or in a remark."""
    said = (record.explanation, *(done.remark for done in readings.steps))
    return any(_SLIP_WORDS.search(text) for text in said)
