from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeVar

from workups.chemistry.readings import Weighing
from workups.chemistry.yields import flasks_weighed, settled
from workups.models import (
    BenchRecord,
    BenchStep,
    Reading,
    ReadingKind,
)

_Entry = TypeVar("_Entry", BenchStep, Reading)


@dataclass(frozen=True)
class WeighingPair:
    """What was weighed for one target, in the order taken; masses in g.

    `parts` were taken out of the product before it was weighed.
    """

    tares: tuple[Reading, ...]
    grosses: tuple[Reading, ...]
    parts: tuple[Reading, ...] = ()

    @property
    def by_difference_g(self) -> Decimal | None:
        """Settled gross less settled tare, as the yield takes it (`mass_by_difference`).

        Product in two numbered flasks is their sum.
        """
        if len(self.flasks) > 1:
            return sum((f.by_difference_g or Decimal() for f in self.flasks), Decimal())
        tare, gross = settled_mean(self.tares), settled_mean(self.grosses)
        return None if tare is None or gross is None else gross - tare

    @property
    def flasks(self) -> "list[WeighingPair]":
        """The weighings of each numbered flask that has both a tare and a gross."""
        found = flasks_weighed([weighing_of(r) for r in (*self.tares, *self.grosses)])
        numbers = [weighings[0].flask_number for weighings in found]
        return [
            WeighingPair(
                tuple(r for r in self.tares if r.flask_number == number),
                tuple(r for r in self.grosses if r.flask_number == number),
            )
            for number in numbers
        ]

    @property
    def averaged(self) -> int:
        """How many gross readings the mass is the mean of."""
        return len(settled_of(self.grosses))

    @property
    def taken_out_g(self) -> Decimal:
        return sum((part_g(part) for part in self.parts), Decimal())

    @property
    def product_g(self) -> Decimal | None:
        """The mass by difference and the parts taken out before."""
        found = self.by_difference_g
        return None if found is None else found + self.taken_out_g

    @property
    def decimals(self) -> int:
        return max((r.decimals for r in (*self.tares, *self.grosses)), default=0)

    @property
    def last_change_g(self) -> Decimal | None:
        """Last gross less the one before; None before there are two.

        Of two flasks that which changed more, None before each was weighed twice.
        """
        flasks = self.flasks
        if len(flasks) > 1:
            changes = [flask.last_change_g for flask in flasks]
            known = [change for change in changes if change is not None]
            return max(known, key=abs) if len(known) == len(changes) else None
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


def settled_of(readings: Sequence[Reading]) -> Sequence[Reading]:
    """The last readings that agree; the rule is the yield's own."""
    weighed = [
        weighing_of(r) for r in readings if r.value is not None and r.readability is not None
    ]
    return readings[len(readings) - len(settled(weighed)) :]


def weighing_of(reading: Reading) -> Weighing:
    """A weighing as the core knows it."""
    if reading.value is None or reading.readability is None:
        raise ValueError(f"weighing {reading.pk} has no value or readability")
    return Weighing(
        kind=reading.kind,
        mass_g=float(reading.value),
        flask_number=reading.flask_number,
        balance=reading.balance,
        readability_g=float(reading.readability),
        on_pan=tuple(reading.on_pan),
    )


def settled_mean(readings: Sequence[Reading]) -> Decimal | None:
    values = [r.value for r in settled_of(readings) if r.value is not None]
    return sum(values, Decimal()) / len(values) if values else None


def part_g(part: Reading) -> Decimal:
    """A part of the product: its vial with it less the vial empty."""
    return (part.value_high or Decimal()) - (part.value or Decimal())


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


def rows_of(record: BenchRecord) -> int:
    """How many rows the record has. It only grows: of two pictures of it the one with more rows is
    the newer."""
    return BenchStep.objects.filter(record=record).count() + record.readings.count()


def all_readings(record: BenchRecord) -> list[Reading]:
    """Every reading, struck-through ones included, in the order made."""
    return list(Reading.objects.filter(record=record).select_related("by").order_by("pk"))


def standing_readings(record: BenchRecord) -> list[Reading]:
    return standing(all_readings(record))


def weighings_of(readings: Iterable[Reading], target: str) -> WeighingPair:
    mine = [r for r in readings if r.subject == target]
    return WeighingPair(
        tares=tuple(r for r in mine if r.kind == ReadingKind.TARE),
        grosses=tuple(r for r in mine if r.kind == ReadingKind.GROSS),
        parts=tuple(r for r in mine if r.kind == ReadingKind.PART),
    )
