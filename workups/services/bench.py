from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from workups.models import (
    BenchRecord,
    BenchTick,
    HandIn,
    Person,
    ShareRequest,
    Work,
)
from workups.selectors.holds import waits_for_a_word
from workups.selectors.plans import submitted_plan
from workups.selectors.works import record_is_locked
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.hand_ins import require_assessed
from workups.services.holding import hold
from workups.services.refusals import Refused


class NoSubmittedPlan(Refused):
    """The bench record follows a submitted plan, and there is none."""


class HoldIsOpen(Refused):
    """The plan waits for a TA's word: held for safety, or it cannot be carried out."""


class RecordIsLocked(Refused):
    """The readings were locked just now: nothing can be added or corrected."""


class RecordIsFull(Refused):
    """The bench record has as many owners as the assignment allows."""


class ExercisesDiffer(Refused):
    """The record's owners have other amounts or materials: it cannot be shared."""


class RecordIsNotShared(Refused):
    """Nobody else owns the bench record: it cannot be left without an owner."""


def start_bench(*, actor: Person, work: Work) -> BenchRecord:
    """Open the record that works the submitted plan down; the open one if there is one.

    A plan whose assessment was cut short, or is still going on, is assessed first: only then is it
    known whether it is held for safety. Raises NotAssessedYet where something new came in just now.
    """
    settle(actor=actor, work=work, reason="begun at the bench")
    return _start_bench(actor, work)


@transaction.atomic
def _start_bench(actor: Person, work: Work) -> BenchRecord:
    hold(work)
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
    hold(work)
    hold(record)
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
    if record.works.exclude(
        own_exercise=work.own_exercise_id, revision=work.revision_id
    ).exists():
        raise ExercisesDiffer


@transaction.atomic
def leave_bench(*, actor: Person, work: Work, reason: str) -> Work:
    """Part a work from the record it shares: an absent partner, or another one taken.

    The record stays with the others as it is, what this owner entered included. The work may then
    begin a record of its own or share another.
    """
    shown = work.bench_record_id
    hold(work)
    record = work.bench_record
    if record is None or record.pk != shown:
        return work
    hold(record)
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


def require_unlocked(record: BenchRecord) -> None:
    if record_is_locked(record):
        raise RecordIsLocked


@transaction.atomic
def tick_bench(
    *, actor: Person, record: BenchRecord, kind: BenchTick.Kind, step_id: str = "", remark: str = ""
) -> BenchTick:
    """A TA has seen something at the bench; seen before, it is not said twice."""
    hold(record)
    said = BenchTick.objects.filter(record=record, kind=kind, step_id=step_id, remark=remark)
    if before := said.first():
        return before
    tick = BenchTick(record=record, kind=kind, step_id=step_id, remark=remark, by=actor)
    tick.full_clean()
    tick.save()
    return tick


@transaction.atomic
def close_record(*, actor: Person | None, record: BenchRecord) -> bool:
    """Lock a record by hand, or by the date (no actor); False if it was locked before."""
    hold(record)
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


WRONG_CODES, WINDOW = 8, timedelta(hours=1)
# Partners share a bench record: one asks by its code, an owner of the record answers.
# The code stands on flask labels and sheets, where anybody can read it: it says which record is
# meant, and opens none by itself.


KEPT_FOR = timedelta(days=1)


class NoSuchPartner(Refused):
    """Nobody of the assignment has this code, or has a record with it yet."""


class TooManyCodes(Refused):
    """The student has tried too many codes that open no record."""


class AlreadyAnswered(Refused):
    """A partner has answered, or the student has begun a record or asked somebody else."""


def ask_to_share(*, actor: Person, work: Work, code: str) -> ShareRequest:
    """Ask the owners of the record with this code; a request before it is taken back.

    Raises NoSuchPartner, TooManyCodes, and what `require_place` raises.
    """
    asked = _ask(actor, work, code)
    if asked.record is None:
        raise NoSuchPartner
    return asked


@transaction.atomic
def _ask(actor: Person, work: Work, code: str) -> ShareRequest:
    hold(work)
    wrong = ShareRequest.objects.filter(work=work, record__isnull=True)
    wrong.filter(asked_at__lt=timezone.now() - KEPT_FOR).delete()
    if wrong.filter(asked_at__gte=timezone.now() - WINDOW).count() >= WRONG_CODES:
        raise TooManyCodes
    partner = (
        Work.objects.filter(assignment_id=work.assignment_id, bench_code=code)
        .exclude(pk=work.pk)
        .select_related("bench_record")
        .first()
    )
    record = partner.bench_record if partner else None
    if record is None:
        return ShareRequest.objects.create(work=work)
    require_place(work, record)
    open_request = ShareRequest.objects.filter(work=work, record__isnull=False, granted=None)
    open_request.update(granted=False, answered_at=timezone.now(), answered_by=actor)
    asked = ShareRequest(work=work, record=record)
    asked.full_clean()
    asked.save()
    record_audit(
        actor=actor, action="ask-to-share", subject=record, course=work.revision.course
    )
    return asked


@transaction.atomic
def answer_share(*, actor: Person, asked: ShareRequest, grant: bool) -> ShareRequest:
    """An owner lets the student in, or does not.

    Raises AlreadyAnswered, and what `join_bench` raises.
    """
    hold(asked.work)
    asked.refresh_from_db(fields=["granted"])
    if asked.granted is not None or asked.record is None:
        raise AlreadyAnswered
    if grant:
        join_bench(actor=actor, work=asked.work, record=asked.record)
    asked.granted, asked.answered_at, asked.answered_by = grant, timezone.now(), actor
    asked.full_clean()
    asked.save(update_fields=["granted", "answered_at", "answered_by"])
    if not grant:
        record_audit(
            actor=actor,
            action="refuse-to-share",
            subject=asked.record,
            course=asked.work.revision.course,
            details={"student": str(asked.work.student)},
        )
    return asked
