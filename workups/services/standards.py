"""Reports that several people mark by themselves: chosen, drawn, marked, taken off."""

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from workups.models import ComparedMark, ComparedReport, ExerciseRevision, Person, Review, Work
from workups.selectors.marks import newest_snapshot
from workups.services.audit import record_audit
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused

PER_MARKER = 2


class NothingToCompare(Refused):
    """The report is not assessed yet, so there is nothing to mark."""


class OwnReport(Refused):
    """Whoever gave the mark that stands cannot be its second reader."""


@transaction.atomic
def choose_report(*, actor: Person, work: Work, purpose: ComparedReport.Purpose) -> ComparedReport:
    """Let a report be marked by others too. One that was taken off comes back with its marks."""
    if newest_snapshot(work) is None:
        raise NothingToCompare
    hold(work)
    report = ComparedReport.objects.filter(work=work).first() or ComparedReport(work=work)
    if report.pk and report.dropped_at is None and report.purpose == purpose:
        return report
    report.purpose, report.chosen_by = purpose, actor
    report.chosen_at, report.dropped_at = timezone.now(), None
    report.full_clean()
    report.save()
    record_audit(
        actor=actor,
        action="choose-compared-report",
        subject=work,
        course=work.revision.course,
        details={"purpose": purpose},
    )
    return report


@transaction.atomic
def drop_report(*, actor: Person, report: ComparedReport) -> None:
    """Off the list; the marks that were given stay stored."""
    if report.dropped_at is None:
        report.dropped_at = timezone.now()
        report.save(update_fields=["dropped_at"])
        record_audit(
            actor=actor,
            action="drop-compared-report",
            subject=report.work,
            course=report.work.revision.course,
        )


@transaction.atomic
def draw_second_readings(*, actor: Person, revision: ExerciseRevision) -> list[ComparedReport]:
    """Two reviewed reports of every person who marks, to be read by somebody else.

    Which ones follows from the reports' random ids, so that nobody picks them; drawing again adds
    only where a person has fewer than two.
    """
    by_marker: dict[int | None, list[Review]] = defaultdict(list)
    reviews = Review.objects.filter(
        work__revision=revision, state=Review.State.REVIEWED
    ).select_related("work__revision__course", "work__compared")
    hold_all([review.work for review in reviews])
    for review in reviews:
        by_marker[review.reviewer_id].append(review)
    drawn = []
    for mine in by_marker.values():
        taken = [r for r in mine if _is_compared(r.work)]
        free = sorted((r for r in mine if not _is_compared(r.work)), key=_lot)
        drawn += [
            choose_report(actor=actor, work=review.work, purpose=ComparedReport.Purpose.SECOND)
            for review in free[: max(0, PER_MARKER - len(taken))]
        ]
    return drawn


def _is_compared(work: Work) -> bool:
    compared: ComparedReport | None = getattr(work, "compared", None)
    return compared is not None and compared.dropped_at is None


def _lot(review: Review) -> bytes:
    return sha256(f"second reading of {review.work.public_id}".encode()).digest()


@transaction.atomic
def mark_compared(
    *, actor: Person, report: ComparedReport, points: Mapping[str, Decimal], remark: str
) -> ComparedMark:
    """What this person would give. Marking again adds a row, the newest counts; the same again in a
    row is said once."""
    hold(report.work)
    second = report.purpose == ComparedReport.Purpose.SECOND
    if second and Review.objects.filter(work=report.work, reviewer=actor).exists():
        raise OwnReport
    given = {name: float(value) for name, value in points.items()}
    newest = ComparedMark.objects.filter(report=report, by=actor).last()
    if newest is not None and (newest.points, newest.remark) == (given, remark):
        return newest
    mark = ComparedMark(report=report, by=actor, points=given, remark=remark)
    mark.full_clean()
    mark.save()
    record_audit(
        actor=actor,
        action="mark-compared-report",
        subject=report.work,
        course=report.work.revision.course,
        details={"points": round(mark.total, 2), "purpose": report.purpose},
    )
    return mark
