from decimal import Decimal
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.html import format_html
from django.views.decorators.http import require_POST, require_safe

from workups.models import ComparedReport, PointAdjustment, Remark, Work
from workups.selectors.anonymity import name_for_marking
from workups.selectors.mark_history import mark_history
from workups.selectors.marks import marks_of
from workups.selectors.reports import open_readings_words
from workups.selectors.review import (
    TO_DO,
    QueueLine,
    assignments_held_back,
    assignments_overdue,
    assignments_to_release,
    neighbours,
    queue_columns,
    queue_lines,
)
from workups.selectors.staff_report import find_review, remarks_of
from workups.selectors.standards import anchors_to_mark, reports_to_compare
from workups.services import reports, review
from workups.services.hand_ins import CouldNotBeAssessed, NotAssessedYet
from workups.services.review import (
    AlreadyTakenBack,
    AnchorsFirst,
    ChangedMeanwhile,
    NoReport,
    NoSuchCheck,
    NothingChanges,
    PartnerHasTheResult,
    ReportIsReleased,
    ReportIsReturned,
    in_tenths,
    results_wait,
)
from workups.web.access import (
    TEACHING,
    CourseAccess,
    current_person,
    get_course_for,
    get_query_to_answer,
    get_work_to_review,
)
from workups.web.optimistic_lock import locked_if_sent
from workups.web.requests import HtmxRequest
from workups.web.review.forms import (
    AcceptForm,
    CommentForm,
    PointsForm,
    QueueForm,
    ReasonForm,
    place_sent,
)
from workups.web.review.report_page import SentForms, answer_form, report_context, return_form

NO_REPORT = "There is no report yet: the readings are not locked."
NOT_ASSESSED = "What came in last is being assessed. Nothing was stored; look again in a moment."
COULD_NOT_BE_ASSESSED = "What came in last could not be assessed, so that no mark can rest on it."
NOT_ACCEPTED: dict[type[Exception], str] = {
    ChangedMeanwhile: "Somebody changed the points since you opened the report. Look.",
    NoReport: NO_REPORT,
    NotAssessedYet: NOT_ASSESSED,
    CouldNotBeAssessed: COULD_NOT_BE_ASSESSED,
    ReportIsReturned: "This report is with the student for correction.",
}


@require_safe
def review_queue(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, TEACHING)
    form = QueueForm(request.GET, enrolment=access.enrolment)
    lines = queue_lines(access.enrolment, form.wanted())
    context = {
        "access": access,
        "form": form,
        "lines": lines,
        "columns": queue_columns(lines),
        "query": form.as_query(),
        "to_release": [
            (assignment, results_wait(assignment))
            for assignment in assignments_to_release(access.enrolment)
        ],
        "held_back": [
            (assignment, open_readings_words(assignment.revision))
            for assignment in assignments_held_back(access.enrolment)
        ],
        "overdue": assignments_overdue(access.enrolment),
        "to_compare": reports_to_compare(access.enrolment) if access.is_ta else [],
        "is_open": not access.course.is_archived,
    }
    template = "_queue.html" if request.htmx else "review_queue.html"
    return render(request, f"workups/review/{template}", context)


@require_safe
def review_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id)
    unmarked = anchor_unmarked(access, work)
    if unmarked is not None:
        return lead_to_anchor(request, unmarked)
    return render_report(request, access, work, SentForms())


def anchor_unmarked(access: CourseAccess, work: Work) -> ComparedReport | None:
    """This very report, where the TA is to mark it unswayed and has not yet."""
    anchors = anchors_to_mark(access.person, work.revision)
    return next((anchor for anchor in anchors if anchor.work_id == work.pk), None)


def lead_to_anchor(request: HtmxRequest, anchor: ComparedReport) -> HttpResponse:
    messages.info(request, "This is an anchor report: mark it by yourself first.")
    return redirect("mark-compared", anchor.public_id)


def render_report(
    request: HtmxRequest, access: CourseAccess, work: Work, sent: SentForms
) -> HttpResponse:
    lines, form = queue_of(request, access)
    line = next((line for line in lines if line.work.pk == work.pk), None)
    context: dict[str, Any] = {
        "access": access,
        "line": line,
        "neighbours": neighbours(lines, work),
        "query": form.as_query(),
        "queue_data": {name: form.data.get(name, "") for name in form.fields},
        "is_open": not access.course.is_archived,
        **report_context(work, sent),
    }
    waits = context["review"] is not None and context["review"].state in TO_DO
    context["may_accept"] = waits and context["is_open"] and work.is_assessed
    return render(request, "workups/review/review_report.html", context)


def queue_of(request: HtmxRequest, access: CourseAccess) -> tuple[list[QueueLine], QueueForm]:
    """The queue that the page was reached through, as its address says."""
    form = QueueForm(request.GET, enrolment=access.enrolment)
    return queue_lines(access.enrolment, form.wanted()), form


def back_to_report(
    request: HtmxRequest, access: CourseAccess, work: Work, place: str = ""
) -> HttpResponse:
    """The report's page again, at the place of it where something was done."""
    url = with_query(reverse("review-report", args=[work.public_id]), request, access)
    return redirect(f"{url}#{place}" if place else url)


def with_query(url: str, request: HtmxRequest, access: CourseAccess) -> str:
    query = QueueForm(request.GET, enrolment=access.enrolment).as_query()
    return f"{url}?{query}" if query else url


def shown_name(work: Work) -> str:
    return name_for_marking(work, find_review(work))


@require_POST
def accept_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Accept, and on to the next one of the queue."""
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    lines, _ = queue_of(request, access)
    following = neighbours(lines, work).following
    form = AcceptForm(request.POST)
    seen = form.cleaned_data["seen"] if form.is_valid() else None
    try:
        review.accept_report(actor=access.person, work=work, seen=seen)
    except tuple(NOT_ACCEPTED) as refused:
        messages.error(request, NOT_ACCEPTED[type(refused)])
        return back_to_report(request, access, work)
    except AnchorsFirst:
        messages.error(request, "The anchor reports of this exercise come first. Here is one.")
        anchor = anchors_to_mark(access.person, work.revision)[0]
        return redirect("mark-compared", anchor.public_id)
    again = with_query(reverse("review-report", args=[work.public_id]), request, access)
    messages.success(
        request,
        format_html(
            '{}: the report is accepted. <a href="{}">Open it again</a>', shown_name(work), again
        ),
    )
    if following is not None and following.pk != work.pk:
        return back_to_report(request, access, following)
    url = reverse("review-queue", args=[access.course.public_id])
    return redirect(with_query(url, request, access))


@require_POST
def adjust_points(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    place = place_sent(request.POST)
    out_of = work.to_core().rubric.points.get(place[0], 0.0)
    form = PointsForm(request.POST, place=place, out_of=out_of)
    if form.is_valid():
        try:
            review.adjust_points(actor=access.person, work=work, change=form.change())
        except NoReport:
            messages.error(request, NO_REPORT)
        except NotAssessedYet:
            form.add_error(None, NOT_ASSESSED)
        except CouldNotBeAssessed:
            form.add_error(None, COULD_NOT_BE_ASSESSED)
        except NoSuchCheck:
            messages.error(request, "The report has no such check or finding.")
        except NothingChanges:
            form.add_error("points", "The check has these points already.")
        except ChangedMeanwhile:
            now = points_of_check(work, form.cleaned_data["check_name"])
            form.add_error("points", f"Somebody has changed it: it has {now} points now.")
            form.show_again(now)
        else:
            messages.success(request, "The points are changed.")
            return back_to_report(request, access, work, f"check-{place[0]}")
    if form.errors:
        return render_report(request, access, work, SentForms(points=form))
    return back_to_report(request, access, work)


def points_of_check(work: Work, name: str) -> Decimal:
    marks = marks_of(work)
    checks = marks.checks if marks else ()
    return in_tenths(next((m.points for m in checks if m.check.name == name), 0.0))


@require_POST
def take_back_adjustment(
    request: HtmxRequest, work_id: UUID, adjustment_id: int
) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    adjustment = get_object_or_404(PointAdjustment, pk=adjustment_id, review__work=work)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Taking points back needs a reason too.")
        return back_to_report(request, access, work)
    try:
        review.take_back_adjustment(
            actor=access.person, adjustment=adjustment, reason=form.cleaned_data["reason"]
        )
    except AlreadyTakenBack:
        messages.warning(request, "That change was taken back before.")
    else:
        messages.success(request, "The change is taken back.")
    return back_to_report(request, access, work, f"check-{adjustment.check_name}")


@require_POST
def assess_work(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Compute again what was not, or could not be, from the report or from the plan at the door."""
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    if work.is_assessed:
        messages.info(request, "It is assessed already, with all that came in.")
    else:
        reports.assess_again(actor=access.person, work=work)
        if work.cannot_be_carried_out:
            messages.error(request, f"Still not: {work.hand_in_problem}.")
        elif not work.is_being_assessed:
            messages.success(request, "It is computed, with all that came in.")
    if find_review(work) is None:
        return redirect("read-plan", work_id)
    return back_to_report(request, access, work)


@require_POST
def comment_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    form = CommentForm(request.POST, remarks=remarks_of(work))
    if not form.is_valid():
        return render_report(request, access, work, SentForms(comment=form))
    try:
        review.comment_report(actor=access.person, work=work, comment=form.comment())
    except NoReport:
        messages.error(request, NO_REPORT)
    else:
        messages.success(request, "The comment is saved.")
        return back_to_report(request, access, work, "comments-heading")
    return back_to_report(request, access, work)


@require_POST
def return_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    with locked_if_sent(request, *review.works_of_record(work)):
        form = return_form(work, request.POST)
        if not form.is_valid():
            return render_report(request, access, work, SentForms(returning=form))
        try:
            review.return_report(actor=access.person, work=work, reason=form.cleaned_data["reason"])
        except NoReport:
            messages.error(request, NO_REPORT)
        except ReportIsReleased:
            messages.error(request, "The result is released. Adjust points with a reason instead.")
        except ReportIsReturned:
            messages.warning(request, "The report is with the student already.")
        except PartnerHasTheResult:
            messages.error(
                request,
                "A partner has the result of these readings. Adjust points with a reason instead.",
            )
        else:
            messages.success(request, f"{shown_name(work)}: the report is back with the student.")
    return back_to_report(request, access, work)


@require_POST
def answer_query(request: HtmxRequest, query_id: UUID) -> HttpResponse:
    access, query = get_query_to_answer(current_person(request), query_id)
    work = query.review.work
    with locked_if_sent(request, query):
        form = answer_form(query, request.POST)
        if not form.is_valid():
            return render_report(request, access, work, SentForms(answer=(query, form)))
        review.answer_query(actor=access.person, query=query, answer=form.cleaned_data["answer"])
    messages.success(request, "The question is answered.")
    return back_to_report(request, access, work, f"query-{query.public_id}")


@require_POST
def drop_remark(request: HtmxRequest, remark_id: UUID) -> HttpResponse:
    remark = get_object_or_404(Remark.objects.select_related("course"), public_id=remark_id)
    access = get_course_for(
        current_person(request), remark.course.public_id, TEACHING, to_change=True
    )
    review.drop_remark(remark=remark)
    messages.success(request, "The remark is off the list. Comments made with it stay.")
    return redirect("list-remarks", access.course.public_id)


@require_safe
def list_remarks(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, TEACHING)
    remarks = Remark.objects.filter(course=access.course, dropped_at__isnull=True)
    context = {"access": access, "remarks": remarks.select_related("kept_by")}
    return render(request, "workups/review/list_remarks.html", context)


@require_safe
def show_mark_history(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id)
    unmarked = anchor_unmarked(access, work)
    if unmarked is not None:
        return lead_to_anchor(request, unmarked)
    context = {
        "access": access,
        "work": work,
        "name": shown_name(work),
        "events": mark_history(work),
    }
    return render(request, "workups/review/show_mark_history.html", context)
