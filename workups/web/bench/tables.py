"""Readings as rows to show: those that hold, and those struck through with the reason."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal

from workups.exercise.exercise import Exercise
from workups.models import WEIGHING_KINDS, BenchRecord, Reading, ReadingKind
from workups.selectors.bench import (
    WeighingPair,
    all_readings,
    standing,
    weighing_questions,
    weighings_of,
)
from workups.words.material_facts import substance_name
from workups.words.numbers import balance_decimals, fixed, unit_after


@dataclass(frozen=True)
class ReadingRow:
    """One reading; `struck` with the `reason` where another took its place or none did.

    `name` is that of the reagent whose amount it is."""

    reading: Reading
    struck: bool
    reason: str
    name: str = ""


@dataclass(frozen=True)
class TargetTable:
    """All that was weighed and seen of one product."""

    key: str
    name: str
    weighings: list[ReadingRow]
    parts: list[ReadingRow]
    witnesses: list[ReadingRow]
    pair: WeighingPair
    questions: list[str]

    @property
    def difference(self) -> str:
        return self._in_g(self.pair.by_difference_g)

    @property
    def taken_out(self) -> str:
        return self._in_g(self.pair.taken_out_g) if self.pair.parts else ""

    @property
    def product(self) -> str:
        """The mass by difference with the parts taken out before."""
        return self._in_g(self.pair.product_g)

    def _in_g(self, found: Decimal | None) -> str:
        """As many decimals as the balance has; one more where a mean needs it."""
        if found is None:
            return ""
        decimals = self.pair.decimals
        more = found != round(found, decimals)
        return unit_after(fixed(float(found), decimals + more), "g")

    @property
    def change(self) -> str:
        """How far the last two gross readings are apart."""
        found = self.pair.last_change_g
        if found is None:
            return ""
        return unit_after(fixed(abs(float(found)), self.pair.decimals), "g")

    @property
    def allowed_change(self) -> str:
        readability = self.pair.readability_g
        if readability is None:
            return ""
        decimals = balance_decimals(float(readability))
        return unit_after(fixed(2 * float(readability), decimals), "g")


def reading_rows(readings: Iterable[Reading]) -> list[ReadingRow]:
    """Rows in the order made; withdrawals show only as the reason on what they struck."""
    rows = list(readings)
    reasons = {row.supersedes_id: row.reason for row in rows if row.supersedes_id}
    return [
        ReadingRow(row, row.pk in reasons, reasons.get(row.pk, ""))
        for row in rows
        if not row.withdrawn
    ]


def reagent_rows(record: BenchRecord, exercise: Exercise) -> list[ReadingRow]:
    """The amounts of reagents that were recorded as really used."""
    readings = [r for r in all_readings(record) if r.kind == ReadingKind.REAGENT and not r.step_id]
    return [
        replace(row, name=substance_name(row.reading.subject, exercise.setup.tables))
        for row in reading_rows(readings)
    ]


def target_tables(record: BenchRecord, exercise: Exercise) -> list[TargetTable]:
    readings = all_readings(record)
    return [target_table(readings, target.substance, exercise) for target in exercise.setup.targets]


def target_table(readings: list[Reading], key: str, exercise: Exercise) -> TargetTable:
    mine = [r for r in readings if r.subject == key]
    weighings = [r for r in mine if r.kind in WEIGHING_KINDS]
    pair = weighings_of(standing(mine), key)
    return TargetTable(
        key=key,
        name=substance_name(key, exercise.setup.tables),
        weighings=reading_rows(weighings),
        parts=reading_rows([r for r in mine if r.kind == ReadingKind.PART]),
        witnesses=reading_rows([r for r in mine if r.kind == ReadingKind.WITNESS]),
        pair=pair,
        questions=weighing_questions(pair, exercise),
    )
