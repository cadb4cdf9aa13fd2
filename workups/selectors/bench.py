from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TypeVar

from workups.chemistry.materials import charged_g
from workups.chemistry.plan import Plan, Step
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    SamplePart,
    SeenVolume,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.yields import flasks_weighed, settled
from workups.documents import step_from_data
from workups.exercise.exercise import Exercise
from workups.grading.diagnosis.recording import neighbours_swapped
from workups.grading.recorded.record import record_questions
from workups.models import WEIGHING_KINDS, BenchRecord, BenchStep, Reading, ReadingKind
from workups.words.numbers import balance_decimals, fixed

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


# A bench record as the grading module's `Readings`.


_DRYING_KINDS = frozenset(
    {
        ReadingKind.AGENT_MASS,
        ReadingKind.AGENT_PORTIONS,
        ReadingKind.AGENT_LOOK,
        ReadingKind.LIQUID_LOOK,
        ReadingKind.DRYING_TIME,
    }
)


def readings_to_core(
    record: BenchRecord, targets: Iterable[str], explanation: str = ""
) -> Readings:
    """What holds in the record. `targets` are the exercise's target substances."""
    readings = standing_readings(record)
    return Readings(
        steps=done_steps(record.plan_revision.to_core(), step_entries(record)),
        reagents={
            r.subject: float(r.value)
            for r in readings
            if r.kind == ReadingKind.REAGENT and r.value is not None
        },
        targets={
            target: TargetReadings(
                weighings=tuple(
                    _weighing(r, record)
                    for r in readings
                    if r.kind in WEIGHING_KINDS and r.subject == target
                ),
                witnesses=tuple(
                    Witness(
                        kind=r.witness_kind,
                        text=r.text,
                        low_C=None if r.value is None else float(r.value),
                        high_C=None if r.value_high is None else float(r.value_high),
                        agrees=r.agrees,
                    )
                    for r in readings
                    if r.kind == ReadingKind.WITNESS and r.subject == target
                ),
                explanation=explanation,
                parts=tuple(
                    part_of(r)
                    for r in readings
                    if r.kind == ReadingKind.PART and r.subject == target
                ),
            )
            for target in targets
        },
        drying=_drying(readings),
        volumes=_volumes(readings),
    )


def done_steps(plan: Plan, entries: Mapping[str, BenchStep]) -> tuple[DoneStep, ...]:
    """The plan as it was worked down, added steps where they were added.

    A step that nothing was said about counts as done as planned; with no entry at all, nothing
    is known and the result is empty.
    """
    if not entries:
        return ()
    done = list(_added_after("", entries))
    for step in plan.steps:
        done.append(_done(step, entries.get(step.id)))
        done.extend(_added_after(step.id, entries))
    return tuple(done)


def _done(planned: Step, entry: BenchStep | None) -> DoneStep:
    if entry is None:
        return DoneStep(step=planned, mark="done")
    return DoneStep(
        step=step_from_data(entry.data), mark=entry.mark, after=entry.after, remark=entry.remark
    )


def _added_after(step_id: str, entries: Mapping[str, BenchStep]) -> Iterable[DoneStep]:
    for entry in entries.values():
        if entry.mark == "added" and entry.after == step_id:
            yield DoneStep(step_from_data(entry.data), "added", step_id, entry.remark)
            yield from _added_after(entry.step_id, entries)


def _volumes(readings: Iterable[Reading]) -> tuple[SeenVolume, ...]:
    """The newest of each flask at each step."""
    seen = {
        (r.step_id, r.flask): SeenVolume(r.step_id, r.flask, float(r.value))
        for r in readings
        if r.kind == ReadingKind.VOLUME and r.value is not None
    }
    return tuple(seen.values())


def _weighing(reading: Reading, record: BenchRecord) -> Weighing:
    minute = (reading.made_at - record.started_at).total_seconds() / 60
    return replace(weighing_of(reading), minute=max(0.0, round(minute, 1)))


def part_of(reading: Reading) -> SamplePart:
    if reading.value is None or reading.value_high is None or reading.readability is None:
        raise ValueError(f"part {reading.pk} has no two masses or no readability")
    return SamplePart(
        use=reading.flask,
        empty_g=float(reading.value),
        full_g=float(reading.value_high),
        readability_g=float(reading.readability),
        text=reading.text,
    )


def _drying(readings: Iterable[Reading]) -> tuple[DryingRecord, ...]:
    by_step: dict[str, dict[str, Reading]] = {}
    for reading in readings:
        if reading.kind in _DRYING_KINDS:
            by_step.setdefault(reading.step_id, {})[reading.kind] = reading
    return tuple(_drying_record(step, found) for step, found in by_step.items())


def _drying_record(step_id: str, found: Mapping[str, Reading]) -> DryingRecord:
    def number(kind: ReadingKind) -> float | None:
        value = found[kind].value if kind in found else None
        return None if value is None else float(value)

    def word(kind: ReadingKind) -> str:
        return found[kind].text if kind in found else ""

    portions = number(ReadingKind.AGENT_PORTIONS)
    return DryingRecord(
        step=step_id,
        agent_mass_g=number(ReadingKind.AGENT_MASS),
        portions=None if portions is None else int(portions),
        agent_look=word(ReadingKind.AGENT_LOOK),
        liquid_look=word(ReadingKind.LIQUID_LOOK),
        minutes=number(ReadingKind.DRYING_TIME),
    )


# Questions about readings, asked as "please check this entry". They never block anything.


def weighing_questions(weighings: WeighingPair, exercise: Exercise) -> list[str]:
    """What the grading asks of a record, while it can still be corrected; and where the mass cannot
    be, whether two digits of a reading have changed places.

    Nothing here is computed from what is hidden: only the readings and what was put in.
    """
    tares, grosses = ([weighing_of(r) for r in of] for of in (weighings.tares, weighings.grosses))
    record = TargetReadings(
        weighings=(*tares, *grosses), parts=tuple(part_of(r) for r in weighings.parts)
    )
    most_g = charged_g(exercise.setup)
    asked = record_questions(Readings(targets={"": record}), most_g)
    said = [f"{question.message} {question.change}" for question in asked]
    return said + list(_crossed(tares[-1], grosses[-1], most_g) if tares and grosses else [])


def _crossed(tare: Weighing, gross: Weighing, most_g: float) -> Iterator[str]:
    """A reading that, with two neighbouring digits in each other's place, makes an impossible mass
    a possible one."""
    if 0 <= gross.mass_g - tare.mass_g <= most_g:
        return
    for what, read, other, sign in (("gross", gross, tare, 1), ("tare", tare, gross, -1)):
        for turned in neighbours_swapped(read.mass_g, read.readability_g):
            if 0 < sign * (turned - other.mass_g) <= most_g:
                shown = [
                    fixed(g, balance_decimals(read.readability_g)) for g in (read.mass_g, turned)
                ]
                yield (
                    f"The {what} reading says {shown[0]} g. Was it {shown[1]} g, with two "
                    "neighbouring digits the other way round? Please check it against the "
                    "notebook or the balance."
                )
