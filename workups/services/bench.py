from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID, uuid5

from django.db import transaction
from django.utils import timezone

from workups.models import (
    BenchRecord,
    BenchStep,
    BenchTick,
    EntrySource,
    HandIn,
    Person,
    Reading,
    ReadingKind,
    Work,
)
from workups.models.bench import set_right
from workups.selectors.bench import step_entries
from workups.selectors.holds import waits_for_a_word
from workups.selectors.plans import submitted_plan
from workups.selectors.works import record_is_locked
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.hand_ins import require_assessed

_Entry = TypeVar("_Entry", BenchStep, Reading)


class NoSubmittedPlan(Exception):
    """The bench record follows a submitted plan, and there is none."""


class HoldIsOpen(Exception):
    """The plan waits for a TA's word: held for safety, or it cannot be carried out."""


class RecordIsLocked(Exception):
    """The readings are locked: nothing can be added or corrected."""


class RecordIsFull(Exception):
    """The bench record has as many owners as the assignment allows."""


class ExercisesDiffer(Exception):
    """The record's owners have other amounts or materials: it cannot be shared."""


class RecordIsNotShared(Exception):
    """Nobody else owns the bench record: it cannot be left without an owner."""


class TokenBelongsElsewhere(Exception):
    """An entry with this token exists in another record."""


class AlreadyCorrected(Exception):
    """The entry was corrected before; correct the one that took its place."""


@dataclass(frozen=True)
class EntryOrigin:
    """Who sent an entry, from where, and the token that makes sending twice harmless.

    `device_offset_s` is what the device adds to its own clock to get ours.
    """

    by: Person
    client_token: UUID
    device_at: datetime | None = None
    device_offset_s: int | None = None
    source: EntrySource = EntrySource.BENCH

    @property
    def made_at(self) -> datetime | None:
        """The device's clock set right, if it can be."""
        return set_right(self.device_at, self.device_offset_s, timezone.now())


@dataclass(frozen=True)
class StepMark:
    """How one step went. `data` is the step with the amounts really used."""

    step_id: str
    mark: str
    data: Mapping[str, Any]
    after: str = ""
    remark: str = ""


@dataclass(frozen=True)
class ReadingValues:
    """What a reading says; the fields are those of the Reading model."""

    kind: ReadingKind
    subject: str = ""
    step_id: str = ""
    flask: str = ""
    value: Decimal | None = None
    value_high: Decimal | None = None
    decimals: int = 0
    unit: str = ""
    text: str = ""
    witness_kind: str = ""
    agrees: bool | None = None
    flask_number: str = ""
    balance: str = ""
    readability: Decimal | None = None
    on_pan: list[str] = field(default_factory=list)


def start_bench(*, actor: Person, work: Work) -> BenchRecord:
    """Open the record that works the submitted plan down; the open one if there is one.

    A plan whose assessment was cut short, or is still going on, is assessed first: only then is it
    known whether it is held for safety. Raises NotAssessedYet where something new came in just now.
    """
    settle(actor=actor, work=work, reason="begun at the bench")
    return _start_bench(actor, work)


@transaction.atomic
def _start_bench(actor: Person, work: Work) -> BenchRecord:
    hold_work(work)
    if work.bench_record is not None:
        return work.bench_record
    plan = submitted_plan(work)
    if plan is None:
        raise NoSubmittedPlan
    require_assessed(work, allowed=(HandIn.ASSESSED, HandIn.FAILED))
    if waits_for_a_word(work):
        raise HoldIsOpen
    record = BenchRecord(plan_revision=plan, started_by=actor)
    record.full_clean()
    record.save()
    work.bench_record = record
    work.save(update_fields=["bench_record"])
    record_audit(
        actor=actor, action="start-bench", subject=record, course=work.revision.course
    )
    return record


@transaction.atomic
def join_bench(*, actor: Person, work: Work, record: BenchRecord) -> Work:
    """Share a partner's record. The work must belong to the same assignment and have none."""
    hold_work(work)
    hold_record(record)
    require_place(work, record)
    work.bench_record = record
    work.save(update_fields=["bench_record"])
    record_audit(
        actor=actor, action="join-bench", subject=record, course=work.revision.course
    )
    return work


def require_place(work: Work, record: BenchRecord) -> None:
    """Whether the work could share the record. Raises RecordIsLocked, RecordIsFull or
    ExercisesDiffer."""
    require_unlocked(record)
    if record.works.count() >= work.assignment.group_size or work.bench_record is not None:
        raise RecordIsFull
    if record.works.exclude(own_exercise=work.own_exercise_id).exists():
        raise ExercisesDiffer


@transaction.atomic
def leave_bench(*, actor: Person, work: Work, reason: str) -> Work:
    """Part a work from the record it shares: an absent partner, or another one taken.

    The record stays with the others as it is, what this owner entered included. The work may then
    begin a record of its own or share another.
    """
    shown = work.bench_record_id
    hold_work(work)
    record = work.bench_record
    if record is None or record.pk != shown:
        return work
    hold_record(record)
    require_unlocked(record)
    if record.works.count() < 2:
        raise RecordIsNotShared
    work.bench_record = None
    work.save(update_fields=["bench_record"])
    record_audit(
        actor=actor,
        action="leave-bench",
        subject=record,
        course=work.revision.course,
        details={"student": str(work.student), "reason": reason},
    )
    return work


@transaction.atomic
def record_bench_step(
    *, record: BenchRecord, origin: EntryOrigin, mark: StepMark, reason: str = ""
) -> BenchStep:
    """Add how a step went; it supersedes what was said of that step before."""
    sent = sent_before(BenchStep, record, origin)
    if sent is not None:
        return sent
    require_unlocked(record)
    entry = BenchStep(
        record=record,
        supersedes=step_entries(record).get(mark.step_id),
        reason=reason,
        **vars(origin),
        **vars(mark),
    )
    entry.full_clean()
    entry.save()
    return entry


@transaction.atomic
def withdraw_bench_step(
    *, record: BenchRecord, origin: EntryOrigin, step_id: str, reason: str = ""
) -> BenchStep | None:
    """Take back what was said of a step; it is open again. None if nothing was said."""
    sent = sent_before(BenchStep, record, origin)
    if sent is not None:
        return sent
    require_unlocked(record)
    old = step_entries(record).get(step_id)
    if old is None:
        return None
    entry = BenchStep(
        record=record,
        step_id=step_id,
        mark=old.mark,
        data=old.data,
        after=old.after,
        supersedes=old,
        withdrawn=True,
        reason=reason,
        **vars(origin),
    )
    entry.full_clean()
    entry.save()
    return entry


@transaction.atomic
def record_reading(
    *, record: BenchRecord, origin: EntryOrigin, values: ReadingValues
) -> Reading:
    """Add a reading; the same token again gives the reading that is already there."""
    sent = sent_before(Reading, record, origin)
    if sent is not None:
        return sent
    require_unlocked(record)
    return _add_reading(record, origin, values)


@transaction.atomic
def record_readings(
    *, record: BenchRecord, origin: EntryOrigin, entries: Sequence[ReadingValues]
) -> list[Reading]:
    """Add what one form says as one reading each, all or none."""
    return [
        record_reading(record=record, origin=numbered(origin, number), values=values)
        for number, values in enumerate(entries)
    ]


def numbered(origin: EntryOrigin, number: int) -> EntryOrigin:
    """The origin of one of several entries of a form, with a token of its own."""
    token = uuid5(origin.client_token, str(number))
    return replace(origin, client_token=token)


@transaction.atomic
def correct_reading(
    *, reading: Reading, origin: EntryOrigin, values: ReadingValues, reason: str
) -> Reading:
    """A new reading in place of an old one, which stays readable, with the reason."""
    sent = sent_before(Reading, reading.record, origin)
    if sent is not None:
        return sent
    require_unlocked(reading.record)
    if hasattr(reading, "superseded_by"):
        raise AlreadyCorrected
    return _add_reading(reading.record, origin, values, supersedes=reading, reason=reason)


@transaction.atomic
def withdraw_reading(*, reading: Reading, origin: EntryOrigin, reason: str) -> Reading:
    """Strike a reading out without a new one."""
    sent = sent_before(Reading, reading.record, origin)
    if sent is not None:
        return sent
    require_unlocked(reading.record)
    if hasattr(reading, "superseded_by"):
        raise AlreadyCorrected
    values = ReadingValues(
        kind=ReadingKind(reading.kind),
        subject=reading.subject,
        step_id=reading.step_id,
        flask=reading.flask,
    )
    return _add_reading(
        reading.record, origin, values, supersedes=reading, reason=reason, withdrawn=True
    )


def _add_reading(
    record: BenchRecord, origin: EntryOrigin, values: ReadingValues, **more: Any
) -> Reading:
    reading = Reading(record=record, **vars(origin), **vars(values), **more)
    reading.full_clean()
    reading.save()
    return reading


def sent_before(
    model: type[_Entry], record: BenchRecord, origin: EntryOrigin
) -> _Entry | None:
    """The entry this token made already; also waits for one that is being made right now."""
    hold_record(record)
    sent = model.objects.filter(client_token=origin.client_token).first()
    if sent is not None and sent.record_id != record.pk:
        raise TokenBelongsElsewhere
    return sent


def hold_record(record: BenchRecord) -> None:
    """Nobody else writes to the record until this transaction ends; what was fetched before may
    have been locked meanwhile."""
    BenchRecord.objects.select_for_update(no_key=True).get(pk=record.pk)
    record.refresh_from_db(fields=["locked_at", "locked_by"])


def hold_work(work: Work) -> None:
    """The same for a work and the record it has."""
    Work.objects.select_for_update(no_key=True).get(pk=work.pk)
    work.refresh_from_db(
        fields=["bench_record", "assignment", "revision", "variant", "own_exercise"]
    )


def require_unlocked(record: BenchRecord) -> None:
    if record_is_locked(record):
        raise RecordIsLocked


@transaction.atomic
def tick_bench(
    *, actor: Person, record: BenchRecord, kind: BenchTick.Kind, step_id: str = "", remark: str = ""
) -> BenchTick:
    """A TA has seen something at the bench."""
    tick = BenchTick(record=record, kind=kind, step_id=step_id, remark=remark, by=actor)
    tick.full_clean()
    tick.save()
    return tick


@transaction.atomic
def close_record(*, actor: Person | None, record: BenchRecord) -> bool:
    """Lock a record by hand, or by the date (no actor); False if it was locked before."""
    hold_record(record)
    if record.locked_at is not None:
        return False
    record.locked_at, record.locked_by = timezone.now(), actor
    record.full_clean()
    record.save(update_fields=["locked_at", "locked_by"])
    work = record.works.select_related("revision__course").first()
    record_audit(
        actor=actor,
        action="lock-readings",
        subject=record,
        course=work.revision.course if work else None,
    )
    return True
