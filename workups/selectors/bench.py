from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from workups.models import (
    WEIGHING_KINDS,
    BenchRecord,
    BenchStep,
    Reading,
    ReadingKind,
)

_Entry = TypeVar("_Entry", BenchStep, Reading)


@dataclass(frozen=True)
class WeighingPair:
    """What was weighed for one target, in the order taken; masses in g.

    `gross_counts`: the last two gross readings agree within twice the readability; None before
    there are two.
    """

    tares: tuple[Reading, ...]
    grosses: tuple[Reading, ...]

    @property
    def by_difference_g(self) -> Decimal | None:
        """Last gross less last tare."""
        if not self.tares or not self.grosses:
            return None
        tare, gross = self.tares[-1].value, self.grosses[-1].value
        return None if tare is None or gross is None else gross - tare

    @property
    def decimals(self) -> int:
        return max((r.decimals for r in (*self.tares, *self.grosses)), default=0)

    @property
    def last_change_g(self) -> Decimal | None:
        """Last gross less the one before; None before there are two."""
        if len(self.grosses) < 2:
            return None
        last, before = self.grosses[-1].value, self.grosses[-2].value
        return None if last is None or before is None else last - before

    @property
    def is_constant(self) -> bool | None:
        """Whether the last two gross readings agree within twice the readability."""
        change, readability = self.last_change_g, self.readability_g
        if change is None or readability is None:
            return None
        return abs(change) <= 2 * readability

    @property
    def readability_g(self) -> Decimal | None:
        return self.grosses[-1].readability if self.grosses else None


def standing(entries: Iterable[_Entry]) -> list[_Entry]:
    """The entries that hold: neither superseded nor a withdrawal, in the order first made."""
    rows = list(entries)
    superseded = {row.supersedes_id for row in rows if row.supersedes_id}
    first = {row.pk: row.pk for row in rows}
    for row in sorted(rows, key=lambda r: r.pk):
        if row.supersedes_id:
            first[row.pk] = first.get(row.supersedes_id, row.supersedes_id)
    held = [row for row in rows if row.pk not in superseded and not row.withdrawn]
    return sorted(held, key=lambda row: first[row.pk])


def step_entries(record: BenchRecord) -> dict[str, BenchStep]:
    """The entry that holds for each step that has one."""
    rows = BenchStep.objects.filter(record=record).select_related("by")
    return {row.step_id: row for row in standing(rows)}


def all_readings(record: BenchRecord) -> list[Reading]:
    """Every reading, struck-through ones included, in the order made."""
    return list(Reading.objects.filter(record=record).select_related("by").order_by("pk"))


def standing_readings(record: BenchRecord) -> list[Reading]:
    return standing(all_readings(record))


def weighings_of(readings: Iterable[Reading], target: str) -> WeighingPair:
    mine = [r for r in readings if r.kind in WEIGHING_KINDS and r.subject == target]
    return WeighingPair(
        tares=tuple(r for r in mine if r.kind == ReadingKind.TARE),
        grosses=tuple(r for r in mine if r.kind == ReadingKind.GROSS),
    )
