"""A TA's work on reports: points, comments, accepting, returning, releasing, answers."""

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from workups.grading.assessment import CheckResult
from workups.grading.scoring import tenths
from workups.models import (
    Assignment,
    MarkQuery,
    Person,
    PointAdjustment,
    Remark,
    Review,
    ReviewComment,
    Work,
)
from workups.selectors.marks import CheckMark, Marks, marks_of, newest_snapshot, standing_of
from workups.selectors.reports import has_open_readings, partner_has_result
from workups.selectors.staff_report import given_back, of_one_cause
from workups.selectors.standards import anchors_to_mark
from workups.services.audit import record_audit
from workups.services.hand_ins import NothingToAssess, require_assessed
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.results import keep_results_out


class NoReport(Refused):
    """Nothing was assessed yet: the readings are not locked."""


class NoSuchCheck(Refused):
    """The report has no check of that name, or no such finding in it."""


class NothingChanges(Refused):
    """The check has these points already."""


class ChangedMeanwhile(Refused):
    """Somebody changed the points since the page was shown; nothing was stored."""


class AlreadyTakenBack(Refused):
    """The adjustment was changed before; change the one that took its place."""


class ReportIsReleased(Refused):
    """The student has the result: it can be adjusted with a reason, not returned."""


class ReportIsReturned(Refused):
    """The report is with the student for correction."""


class PartnerHasTheResult(Refused):
    """A partner who shares the readings has the result: they are not opened again."""


class AnchorsFirst(Refused):
    """The TA has not marked the exercise's anchor reports yet."""


class NothingToRelease(Refused):
    """No report of the section is reviewed and waiting for its release."""


@dataclass(frozen=True)
class NewPoints:
    """What a check is to have, and why; with a finding's code it overrules that finding.

    `seen` is what the check had on the page; None where nothing was shown.
    """

    check_name: str
    points: Decimal
    reason: str
    finding_code: str = ""
    step_id: str = ""
    seen: Decimal | None = None


@dataclass(frozen=True)
class CommentText:
    """A remark; `keep` makes it a reusable one of the course."""

    text: str
    step_id: str = ""
    for_staff: bool = False
    keep: bool = False


@dataclass(frozen=True)
class Released:
    """How many reports were released, how many of those accepted were not, and whether students
    have to wait for other sections."""

    count: int
    held_back: bool
    left: int = 0


def review_to_change(work: Work) -> Review:
    """The review row, locked for this transaction, and where the work stands with it."""
    hold(work)
    review = Review.objects.filter(work=work).first()
    if review is None:
        raise NoReport
    hold(review)
    return review


def _review_to_mark(work: Work) -> Review:
    review = review_to_change(work)
    _require_marks(work)
    return review


def _require_marks(work: Work) -> None:
    try:
        require_assessed(work)
    except NothingToAssess as nothing:
        raise NoReport from nothing


@transaction.atomic
def adjust_points(*, actor: Person, work: Work, change: NewPoints) -> PointAdjustment:
    """Give a check other points, in place of what was given by hand before.

    Where a finding is overruled, what its cause took from other checks comes back with it, in the
    same part: one decision for one cause.

    Raises NotAssessedYet or CouldNotBeAssessed where the points shown rest on less than came in.
    """
    review = _review_to_mark(work)
    marks = marks_of(work)
    mark = next((m for m in marks.checks if m.check.name == change.check_name), None) if (
        marks
    ) else None
    place = change.finding_code, change.step_id
    if marks is None or mark is None or not has_finding(mark.check, *place):
        raise NoSuchCheck
    before = in_tenths(mark.points)
    if change.seen is not None and change.seen != before:
        raise ChangedMeanwhile
    if change.points == before:
        raise NothingChanges
    # From the sum itself, which may be outside what can be given.
    delta = change.points - in_tenths(mark.computed) - mark.by_hand
    adjustment = PointAdjustment(
        review=review,
        check_name=change.check_name,
        delta=delta,
        reason=change.reason,
        finding_code=change.finding_code,
        step_id=change.step_id,
        by=actor,
    )
    adjustment.full_clean()
    adjustment.save()
    others = _overruled_with(adjustment, marks, mark, float(change.points - before))
    for other in others:
        other.full_clean()
        other.save()
    _take_up(actor, review)
    record_audit(
        actor=actor,
        action="overrule-finding" if change.finding_code else "adjust-points",
        subject=work,
        course=work.revision.course,
        details={
            "check": change.check_name,
            "before": str(before),
            "after": str(change.points),
            "reason": change.reason,
            "finding": change.finding_code,
            "step": change.step_id,
            "elsewhere": {other.check_name: str(other.delta) for other in others},
        },
    )
    return adjustment


def _overruled_with(
    adjustment: PointAdjustment, marks: Marks, mark: CheckMark, back: float
) -> list[PointAdjustment]:
    """What goes with an overruled finding in other checks: rows of the same moment and reason."""
    overruled = next((f for f in mark.check.findings if adjustment.finding_code and (
        f.code, f.step) == (adjustment.finding_code, adjustment.step_id)), None)
    if overruled is None or back < 0:
        return []
    whole = given_back(mark, overruled)
    part = min(1.0, back / whole) if whole > 0 else 1.0
    return [
        PointAdjustment(
            review=adjustment.review, check_name=other.check.name,
            delta=in_tenths(part * given_back(other, finding)),
            reason=adjustment.reason, finding_code=finding.code, step_id=finding.step,
            by=adjustment.by, at=adjustment.at)
        for other, finding in of_one_cause(marks.checks, mark.check.name, overruled)
    ]


def has_finding(check: CheckResult, code: str, step: str) -> bool:
    """Whether the check has this finding, at any step where none is said; none is always there."""
    return not code or any(f.code == code and step in ("", f.step) for f in check.findings)


@transaction.atomic
def take_back_adjustment(
    *, actor: Person, adjustment: PointAdjustment, reason: str
) -> PointAdjustment:
    """Undo an adjustment: a new row of 0 points stands in its place, with the reason; likewise in
    place of what the same decision gave back in other checks."""
    review = review_to_change(adjustment.review.work)
    if PointAdjustment.objects.filter(supersedes=adjustment).exists():
        raise AlreadyTakenBack
    undone = _undone(actor, adjustment, reason)
    for other in _of_one_decision(adjustment):
        _undone(actor, other, reason)
    _take_up(actor, review)
    record_audit(
        actor=actor,
        action="take-back-adjustment",
        subject=review.work,
        course=review.work.revision.course,
        details={
            "check": adjustment.check_name,
            "taken_back": str(adjustment.delta),
            "reason": reason,
        },
    )
    return undone


def _undone(actor: Person, adjustment: PointAdjustment, reason: str) -> PointAdjustment:
    undone = PointAdjustment(
        review=adjustment.review,
        check_name=adjustment.check_name,
        delta=Decimal(0),
        reason=reason,
        by=actor,
        supersedes=adjustment,
    )
    undone.full_clean()
    undone.save()
    return undone


def _of_one_decision(adjustment: PointAdjustment) -> QuerySet[PointAdjustment]:
    """The other standing rows that one overruling made."""
    if not adjustment.finding_code:
        return PointAdjustment.objects.none()
    return standing_of([adjustment.review]).filter(
        at=adjustment.at, by=adjustment.by).exclude(pk=adjustment.pk)


def in_tenths(points: float) -> Decimal:
    """Points as the page shows them and forms send them back."""
    return Decimal(str(tenths(points)))


def _take_up(actor: Person, review: Review) -> None:
    """Who first does something on a waiting report is its reviewer until somebody else accepts."""
    if review.state == Review.State.WAITING:
        review.state, review.reviewer = Review.State.IN_REVIEW, actor
        review.save(update_fields=["state", "reviewer"])


@transaction.atomic
def comment_report(*, actor: Person, work: Work, comment: CommentText) -> ReviewComment:
    """Said twice in a row it is said once."""
    if comment.keep:
        hold(work.revision.course)
    review = review_to_change(work)
    said = ReviewComment.objects.filter(review=review, by=actor).last()
    now = (comment.text, comment.step_id, comment.for_staff)
    if said is not None and (said.text, said.step_id, said.for_staff) == now:
        return said
    row = ReviewComment(
        review=review,
        text=comment.text,
        step_id=comment.step_id,
        for_staff=comment.for_staff,
        by=actor,
    )
    row.full_clean()
    row.save()
    _take_up(actor, review)
    if comment.keep:
        _keep_remark(actor=actor, work=work, text=comment.text)
    return row


def _keep_remark(*, actor: Person, work: Work, text: str) -> Remark:
    """A remark for use on other reports; the same words are kept once."""
    course = work.revision.course
    kept = Remark.objects.filter(course=course, text=text, dropped_at__isnull=True).first()
    if kept is not None:
        return kept
    remark = Remark(course=course, text=text, kept_by=actor)
    remark.full_clean()
    remark.save()
    return remark


@transaction.atomic
def drop_remark(*, remark: Remark) -> None:
    """Off the list; comments made with it stay."""
    remark.dropped_at = timezone.now()
    remark.save(update_fields=["dropped_at"])


@transaction.atomic
def accept_report(*, actor: Person, work: Work, seen: Decimal | None = None) -> Review:
    """The mark stands as it is now, on the newest assessment. Accepting twice changes nothing.

    `seen` are the points that the page showed; with others by now nothing is accepted. Raises
    NotAssessedYet or CouldNotBeAssessed where the newest assessment rests on less than came in.
    """
    if anchors_to_mark(actor, work.revision):
        raise AnchorsFirst
    review = review_to_change(work)
    if review.state == Review.State.RETURNED:
        raise ReportIsReturned
    if review.state in (Review.State.REVIEWED, Review.State.RELEASED):
        return review
    _require_marks(work)
    snapshot = newest_snapshot(work)
    marks = marks_of(work)
    if snapshot is None or marks is None:
        raise NoReport
    if seen is not None and seen != in_tenths(marks.points):
        raise ChangedMeanwhile
    review.state, review.reviewer = Review.State.REVIEWED, actor
    review.snapshot, review.reviewed_at = snapshot, timezone.now()
    review.full_clean()
    review.save()
    record_audit(
        actor=actor,
        action="accept-report",
        subject=work,
        course=work.revision.course,
        details={"points": tenths(marks.points)},
    )
    return review


def works_of_record(work: Work) -> list[Work]:
    """The work itself and its partners', which have the same readings, by their keys' order."""
    partners = Work.objects.filter(bench_record=work.bench_record_id).exclude(pk=work.pk)
    return sorted((work, *(partners if work.bench_record_id else ())), key=lambda w: int(w.pk))


@transaction.atomic
def return_report(*, actor: Person, work: Work, reason: str) -> Review:
    """Back to the student: readings and report are open again, with what is to be corrected.

    Not where a partner who shares the record has the result: whoever writes readings must not know
    what is expected of them, and a released mark rests on the readings as they stand.
    """
    hold_all(works_of_record(work))
    review = review_to_change(work)
    if review.state == Review.State.RELEASED:
        raise ReportIsReleased
    if review.state == Review.State.RETURNED:
        raise ReportIsReturned
    if partner_has_result(work):
        raise PartnerHasTheResult
    keep_results_out(actor=actor, revision=work.revision)
    review.state, review.reviewer = Review.State.RETURNED, actor
    review.snapshot, review.reviewed_at, review.returned_reason = None, None, reason
    review.full_clean()
    review.save()
    record_audit(
        actor=actor,
        action="return-report",
        subject=work,
        course=work.revision.course,
        details={"reason": reason},
    )
    return review


@transaction.atomic
def release_section(*, actor: Person, assignment: Assignment) -> Released:
    """Release every reviewed report of a section whose assessment rests on all that came in, and
    whose readings are not open again for a partner's correction.

    Students see the results once no section that shares the exercise takes readings any more,
    or an instructor opens them.
    """
    works = hold_all(Work.objects.filter(assignment=assignment))
    here = {work.pk for work in works if work.assignment_id == assignment.pk}
    opened = set(Work.objects.filter(
        bench_record__in={w.bench_record_id for w in works if w.bench_record_id},
        review__state=Review.State.RETURNED).values_list("bench_record", flat=True))
    settled = {w.pk for w in works
               if w.pk in here and w.is_assessed and w.bench_record_id not in opened}
    accepted = hold_all(
        Review.objects.filter(work__in=here).select_related("work__revision__course")
    )
    accepted = [review for review in accepted if review.state == Review.State.REVIEWED]
    if not accepted:
        raise NothingToRelease
    reviews = [review for review in accepted if review.work_id in settled]
    for review in reviews:
        review.state, review.released_by = Review.State.RELEASED, actor
        review.released_at = timezone.now()
        review.save(update_fields=["state", "released_by", "released_at"])
        record_audit(
            actor=actor,
            action="release-report",
            subject=review.work,
            course=review.work.revision.course,
        )
    return Released(len(reviews), results_wait(assignment), len(accepted) - len(reviews))


def results_wait(assignment: Assignment) -> bool:
    """Whether released results of a section are held back for another one's open readings."""
    return assignment.results_opened_at is None and has_open_readings(assignment.revision)


@transaction.atomic
def open_results(*, actor: Person, assignment: Assignment, reason: str) -> Assignment:
    """An instructor lets a section's results out although others still take readings."""
    hold(assignment)
    if assignment.results_opened_at is None:
        assignment.results_opened_at = timezone.now()
        assignment.save(update_fields=["results_opened_at"])
        record_audit(
            actor=actor,
            action="open-results",
            subject=assignment,
            course=assignment.revision.course,
            details={"reason": reason},
        )
    return assignment


@transaction.atomic
def answer_query(*, actor: Person, query: MarkQuery, answer: str) -> MarkQuery:
    """Answer a student's question; an earlier answer stays readable in the mark's history."""
    hold(query)
    before = query.answer
    if before == answer:
        return query
    query.answer, query.answered_by, query.answered_at = answer, actor, timezone.now()
    query.full_clean()
    query.save(update_fields=["answer", "answered_by", "answered_at"])
    work = query.review.work
    record_audit(
        actor=actor,
        action="answer-query",
        subject=work,
        course=work.revision.course,
        details={"question": query.text, "answer": answer, "answer_before": before},
    )
    return query
