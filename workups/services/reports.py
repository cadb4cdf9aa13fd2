from collections.abc import Callable, Sequence

from django.db import transaction
from django.utils import timezone

from workups.models import (
    AssessmentSnapshot,
    Assignment,
    BenchRecord,
    MarkQuery,
    Person,
    Review,
    Work,
)
from workups.selectors.marks import newest_snapshot
from workups.selectors.progress import works_to_assess
from workups.selectors.reports import needs_explanation
from workups.selectors.works import overdue_records, readings_are_locked, record_is_locked
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.bench import close_record
from workups.services.hand_ins import new_to_assess
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused


class ReadingsAreOpen(Refused):
    """The report follows the readings, which are not locked yet."""


class ReportIsClosed(Refused):
    """The report is with the TA and was not returned for correction."""


class ExplanationIsMissing(Refused):
    """A yield above 100 % needs an explanation in the student's own words."""


class ReportIsNotReleased(Refused):
    """Marks can be queried once they are released."""


def lock_readings(*, actor: Person | None, record: BenchRecord) -> list[Work]:
    """Lock a record, assess the work of each owner and put it in the queue for review.

    Gives the works; where each stands then, its state says.
    """
    works = _lock_and_queue(actor, record)
    for work in works:
        settle(actor=actor, work=work, reason="readings locked")
    return works


@transaction.atomic
def _lock_and_queue(actor: Person | None, record: BenchRecord) -> list[Work]:
    """Both or neither: a record that is locked has all its reports in the queue.

    Partners go with a report that was returned, since they share the readings. Locking again what
    is locked does nothing.
    """
    hold_all(Work.objects.filter(bench_record=record))
    was_open = close_record(actor=actor, record=record)
    if not was_open and record_is_locked(record):
        return []
    works = list(record.works.select_related("revision__course"))
    for work in works:
        new_to_assess(work)
        open_review(actor=actor, work=work)
    return works


def lock_overdue(
    *, assignment: Assignment, go_on: Callable[[], bool] = lambda: True
) -> list[BenchRecord]:
    """Lock the records of an assignment whose date has passed; gives those locked now.

    Each takes a second or more, since its reports are assessed; `go_on` is asked before each.
    """
    locked = []
    for record in overdue_records().filter(works__assignment=assignment).distinct():
        if go_on():
            lock_readings(actor=None, record=record)
            locked.append(record)
    return locked


def assess_left_over(
    *, assignment: Assignment, go_on: Callable[[], bool] = lambda: True, failed_too: bool = False
) -> list[Work]:
    """Assess what came in on an assignment and was then not assessed; gives the works.

    With `failed_too` also what the computation gave up on, for after the program was mended. A
    report accepted meanwhile was accepted without it, and waits again.
    """
    done = []
    for work in works_to_assess(failed_too=failed_too).filter(assignment=assignment):
        if go_on():
            assess_again(actor=None, work=work, failed_too=failed_too)
            done.append(work)
    return done


def assess_again(*, actor: Person | None, work: Work, failed_too: bool = True) -> None:
    """Assess what came in and is not in the newest assessment; the work's state says what came of
    it. A report that was accepted without it waits again."""
    settle(actor=actor, work=work, reason="computed again", again=failed_too)
    reopen_accepted(actor=actor, work=work, unless_on=newest_snapshot(work))


@transaction.atomic
def reopen_accepted(
    *, actor: Person | None, work: Work, unless_on: AssessmentSnapshot | None = None
) -> None:
    """The report waits for a reviewer again where it was accepted, not where it is released; nor
    where somebody has accepted it on this very assessment, as soon as it was made."""
    hold(work)
    accepted = Review.objects.filter(work=work, state=Review.State.REVIEWED)
    if accepted.exclude(snapshot=unless_on).exists():
        open_review(actor=actor, work=work)


@transaction.atomic
def open_review(*, actor: Person | None, work: Work) -> Review:
    """The work waits for a reviewer; also when it comes back after a correction, and when it was
    accepted before all of it was there."""
    Review.objects.get_or_create(work=work)
    review = Review.objects.get(work=work)
    hold(review)
    if review.state in (Review.State.RETURNED, Review.State.REVIEWED):
        if review.state == Review.State.REVIEWED:
            record_audit(
                actor=actor, action="reopen-review", subject=work, course=work.revision.course
            )
        review.state, review.waiting_since = Review.State.WAITING, timezone.now()
        review.snapshot = review.reviewed_at = None
        review.save(update_fields=["state", "waiting_since", "snapshot", "reviewed_at"])
    return review


def report_is_open(work: Work) -> bool:
    """Whether the student can hand it in: not yet done, or returned for correction."""
    review = Review.objects.filter(work=work).first()
    if review is not None and review.state == Review.State.RETURNED:
        return True
    released = review is not None and review.state == Review.State.RELEASED
    return work.report_submitted_at is None and not released


def _require_open_report(work: Work) -> None:
    """It is not handed in, accepted or released until this transaction ends."""
    hold(work)
    if not report_is_open(work):
        raise ReportIsClosed


def submit_report(
    *, actor: Person, work: Work, explanation: str, answers: Sequence[tuple[str, str]] = ()
) -> Work:
    """Hand the report in. Above 100 % an explanation is required. `answers` are to the questions
    of the task, each beside its question."""
    if not readings_are_locked(work):
        raise ReadingsAreOpen
    if not report_is_open(work):
        raise ReportIsClosed
    settle(actor=actor, work=work, reason="readings locked")
    if not explanation.strip() and needs_explanation(work):
        raise ExplanationIsMissing
    _store_report(actor, work, explanation, answers)
    settle(actor=actor, work=work, reason="report handed in")
    return work


@transaction.atomic
def _store_report(
    actor: Person, work: Work, explanation: str, answers: Sequence[tuple[str, str]]
) -> None:
    _require_open_report(work)
    work.explanation = explanation.strip()
    work.answers = [{"question": question, "answer": said} for question, said in answers]
    work.report_submitted_at = timezone.now()
    work.full_clean()
    work.save(update_fields=["explanation", "answers", "report_submitted_at"])
    new_to_assess(work)
    open_review(actor=actor, work=work)
    record_audit(actor=actor, action="submit-report", subject=work, course=work.revision.course)


@transaction.atomic
def query_mark(*, actor: Person, work: Work, check_name: str, text: str) -> MarkQuery:
    """A student's question about a released mark; the same one again waits for the one answer."""
    review = Review.objects.filter(work=work, state=Review.State.RELEASED).first()
    if review is None:
        raise ReportIsNotReleased
    hold(review)
    asked = review.queries.filter(
        check_name=check_name, text=text, asked_by=actor, answered_at__isnull=True
    ).first()
    if asked is not None:
        return asked
    query = MarkQuery(review=review, check_name=check_name, text=text, asked_by=actor)
    query.full_clean()
    query.save()
    record_audit(actor=actor, action="query-mark", subject=query, course=work.revision.course)
    return query
