from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from workups.models import BenchRecord, Extension, Person, Review, Role, ShareRequest, Work


@dataclass(frozen=True)
class Dates:
    """When a student's work opens and is due, extensions counted in."""

    opens_at: datetime
    plan_due: datetime
    report_due: datetime
    is_extended: bool = False


def works_with_everything() -> QuerySet[Work]:
    """Works with the rows that nearly every page needs."""
    return Work.objects.select_related(
        "assignment__section__course",
        "assignment__revision",
        "revision",
        "own_exercise",
        "enrolment__person",
        "bench_record",
        "review",
    )


def works_of(person: Person) -> QuerySet[Work]:
    """A student's works in courses that are open and assignments that have opened."""
    return (
        works_with_everything()
        .filter(
            enrolment__person=person,
            enrolment__role=Role.STUDENT,
            enrolment__left_at__isnull=True,
            enrolment__course__archived_at__isnull=True,
            assignment__opens_at__lte=timezone.now(),
        )
        .order_by("assignment__report_due", "pk")
    )


def dates_of(work: Work) -> Dates:
    assignment = work.assignment
    extension = Extension.objects.filter(
        assignment=assignment, enrolment_id=work.enrolment_id
    ).first()
    if extension is None:
        return Dates(assignment.opens_at, assignment.plan_due, assignment.report_due)
    # The section's own dates may have been moved past the extension since.
    return Dates(
        opens_at=assignment.opens_at,
        plan_due=max(extension.plan_due or assignment.plan_due, assignment.plan_due),
        report_due=max(extension.report_due or assignment.report_due, assignment.report_due),
        is_extended=True,
    )


def partners_of(work: Work) -> list[Person]:
    """The other owners of the student's bench record."""
    if work.bench_record_id is None:
        return []
    others = Work.objects.filter(bench_record_id=work.bench_record_id).exclude(pk=work.pk)
    return [other.student for other in others.select_related("enrolment__person")]


def record_due(record: BenchRecord) -> datetime:
    """When the record locks by itself: the latest date of its owners."""
    works = record.works.select_related("assignment")
    return max(dates_of(work).report_due for work in works)


def record_is_locked(record: BenchRecord) -> bool:
    """Locked by hand or by its date, unless a report came back for correction."""
    if record.works.filter(review__state=Review.State.RETURNED).exists():
        return False
    return record.locked_at is not None or timezone.now() > record_due(record)


def overdue_records() -> QuerySet[BenchRecord]:
    """Records that nobody has locked and their date has: `record_is_locked` for many at once."""
    now = timezone.now()
    extended = Q(
        assignment__extensions__enrolment=F("enrolment"),
        assignment__extensions__report_due__gte=now,
    )
    returned = Q(review__state=Review.State.RETURNED)
    still_open = Work.objects.filter(
        Q(assignment__report_due__gte=now) | extended | returned, bench_record=OuterRef("pk")
    )
    owned = Work.objects.filter(bench_record=OuterRef("pk"))
    return BenchRecord.objects.filter(~Exists(still_open), Exists(owned), locked_at__isnull=True)


def readings_are_locked(work: Work) -> bool:
    """Whether the student can enter nothing more: locked by hand or by the date."""
    if work.bench_record is not None:
        return record_is_locked(work.bench_record)
    return timezone.now() > dates_of(work).report_due


def shares_asked_of(record: BenchRecord) -> QuerySet[ShareRequest]:
    """Requests to share a record that wait for an owner's answer."""
    return ShareRequest.objects.filter(
        record=record, granted=None, work__bench_record=None
    ).select_related("work__enrolment__person", "work__revision__course", "work__assignment")


def last_share_asked_by(work: Work) -> ShareRequest | None:
    """What the student asked last, answered or not."""
    asked = ShareRequest.objects.filter(work=work, record__isnull=False)
    return asked.select_related("answered_by").first()
