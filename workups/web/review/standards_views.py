"""Anchor reports, second readings, and whether everybody marks alike."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import ComparedReport, Person, Role
from workups.selectors.anonymity import marking_code
from workups.selectors.standards import (
    compared_reports,
    comparison_of,
    marker_lines,
    newest_marks,
    overruled_lines,
)
from workups.services import standards
from workups.services.standards import NothingToCompare, OwnReport
from workups.web.access import (
    INSTRUCTOR,
    TEACHING,
    CourseAccess,
    current_person,
    get_access_to,
    get_revision_for,
    get_work_to_review,
)
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data
from workups.web.review.forms import ComparedForm
from workups.web.review.report_page import compared_context


def get_compared_for(
    person: Person, public_id: UUID, roles: frozenset[Role] = TEACHING, *, to_change: bool = False
) -> tuple[CourseAccess, ComparedReport]:
    """Everybody who marks in the course, whatever the section: names are always hidden."""
    reports = ComparedReport.objects.filter(dropped_at__isnull=True).select_related(
        "work__revision__course",
        "work__assignment__section__course",
        "work__enrolment__person",
        "work__bench_record",
    )
    report = get_object_or_404(reports, public_id=public_id)
    course = report.work.revision.course
    return get_access_to(person, course, roles, to_change=to_change), report


@require_safe
def show_standards(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, INSTRUCTOR)
    context = {
        "access": access,
        "revision": revision,
        "comparisons": [comparison_of(report) for report in compared_reports(revision)],
        "markers": marker_lines(revision),
        "overruled": overruled_lines(revision),
        "is_open": not access.course.is_archived,
    }
    return render(request, "workups/review/show_standards.html", context)


@require_POST
def draw_second_readings(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(
        current_person(request), revision_id, INSTRUCTOR, to_change=True
    )
    drawn = standards.draw_second_readings(actor=access.person, revision=revision)
    if drawn:
        what = "One report is" if len(drawn) == 1 else f"{len(drawn)} reports are"
        messages.success(request, f"{what} drawn for a second reading.")
    else:
        messages.warning(
            request, "There is none to draw: reports are drawn between review and release."
        )
    return redirect("show-standards", revision.public_id)


@require_POST
def choose_anchor(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    if not access.is_instructor:
        raise PermissionDenied("An instructor chooses the anchor reports.")
    try:
        standards.choose_report(
            actor=access.person, work=work, purpose=ComparedReport.Purpose.ANCHOR
        )
    except NothingToCompare:
        messages.error(request, "This report is not assessed yet.")
        return redirect("review-report", work.public_id)
    messages.success(request, "Every TA is asked to mark this report before any other.")
    return redirect("show-standards", work.revision.public_id)


@require_POST
def drop_compared(request: HtmxRequest, compared_id: UUID) -> HttpResponse:
    access, report = get_compared_for(
        current_person(request), compared_id, INSTRUCTOR, to_change=True
    )
    standards.drop_report(actor=access.person, report=report)
    messages.success(request, "The report is off the list. The marks given stay stored.")
    return redirect("show-standards", report.work.revision.public_id)


@require_http_methods(FORM_METHODS)
def mark_compared(request: HtmxRequest, compared_id: UUID) -> HttpResponse:
    """The report without names and without anybody's marks; others' marks after the own ones."""
    changing = request.method == "POST"
    access, report = get_compared_for(current_person(request), compared_id, to_change=changing)
    comparison = comparison_of(report)
    mine = newest_marks(report).get(access.person.pk)
    form = ComparedForm(
        sent_data(request), computed=report_checks(report), given=mine.points if mine else {}
    )
    if changing and form.is_valid():
        try:
            standards.mark_compared(
                actor=access.person,
                report=report,
                points=form.points(),
                remark=form.cleaned_data["remark"],
            )
        except OwnReport:
            form.add_error(None, "The mark that stands is yours. Somebody else reads it now.")
        else:
            messages.success(request, "Your marks are kept, for the comparison only.")
            return redirect("mark-compared", report.public_id)
    context = {
        "access": access,
        "report": report,
        "comparison": comparison,
        "form": form,
        "mine": mine,
        "shows_others": mine is not None or access.is_instructor,
        **compared_context(report.work, f"Report {marking_code(report.work)}"),
    }
    return render(request, "workups/review/mark_compared.html", context)


def report_checks(report: ComparedReport) -> dict[str, tuple[float, float]]:
    """Computed points and what they are of, by check."""
    snapshot = report.work.snapshots.first()
    checks = snapshot.to_core().checks if snapshot else ()
    return {check.name: (check.points, check.out_of) for check in checks}
