from django.db.models import F, Q, QuerySet
from django.utils import timezone

from workups.grading.assessment import TargetYield
from workups.grading.visibility import Moment
from workups.models import ExerciseRevision, Review, Work
from workups.selectors.marks import newest_snapshot
from workups.selectors.works import readings_are_locked


def moment_of(work: Work) -> Moment:
    """Where the student stands, which decides what they may see."""
    if not readings_are_locked(work):
        return Moment.PLANNING
    return Moment.RELEASED if is_released(work) else Moment.LOCKED


def is_released(work: Work) -> bool:
    """Released by a TA, and no section that shares the exercise still takes readings."""
    review = Review.objects.filter(work=work).first()
    if review is None or review.state != Review.State.RELEASED:
        return False
    if work.assignment.results_opened_at is not None:
        return True
    return not has_open_readings(work.revision)


def partner_has_result(work: Work) -> bool:
    """Whether somebody who shares the bench record has it released, so that it stays as it is."""
    released = Review.objects.filter(work__bench_record=work.bench_record_id)
    released = released.filter(state=Review.State.RELEASED).exclude(work=work)
    return work.bench_record_id is not None and released.exists()


def has_open_readings(revision: ExerciseRevision) -> bool:
    """Whether anybody who works on this exercise, in any revision, can still enter readings."""
    return _still_recording(revision).exists() or _returned(revision).exists()


def open_readings_words(revision: ExerciseRevision) -> str:
    """Whose readings are open still, in numbers."""
    recording = _still_recording(revision).distinct().count()
    returned = _returned(revision).count()
    parts = []
    if recording:
        who = "one student" if recording == 1 else f"{recording} students"
        parts.append(f"{who} can still enter readings")
    if returned:
        what = "one report is" if returned == 1 else f"{returned} reports are"
        parts.append(f"{what} back for correction")
    return " and ".join(parts)


def _still_recording(revision: ExerciseRevision) -> QuerySet[Work]:
    now = timezone.now()
    unlocked = Q(bench_record__isnull=True) | Q(bench_record__locked_at__isnull=True)
    later = Q(assignment__report_due__gt=now) | Q(
        assignment__extensions__report_due__gt=now,
        assignment__extensions__enrolment=F("enrolment"),
    )
    return _current(revision).filter(unlocked & later)


def _returned(revision: ExerciseRevision) -> QuerySet[Work]:
    return _current(revision).filter(review__state=Review.State.RETURNED)


def _current(revision: ExerciseRevision) -> QuerySet[Work]:
    """Everybody's work on the exercise, in any of its revisions."""
    return Work.objects.filter(
        revision__course=revision.course_id,
        revision__key=revision.key,
        enrolment__left_at__isnull=True,
    )


def yields_of(work: Work) -> tuple[TargetYield, ...]:
    """Mass and percent yield from the readings, as last computed; no expectations."""
    snapshot = newest_snapshot(work)
    return () if snapshot is None else snapshot.to_core().readings


def needs_explanation(work: Work) -> bool:
    """Whether a yield above 100 % was found."""
    return any(y.percent is not None and y.percent > 100 for y in yields_of(work))
