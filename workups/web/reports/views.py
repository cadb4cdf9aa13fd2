from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST, require_safe

from workups.documents import readings_from_data
from workups.grading.visibility import Moment, may_see_expected
from workups.models import Work
from workups.selectors.marks import marked_snapshot, newest_snapshot
from workups.selectors.report_page import report_page
from workups.selectors.reports import moment_of, needs_explanation
from workups.services import reports
from workups.services.reports import (
    ReadingsAreOpen,
    ReportIsClosed,
    ReportIsNotReleased,
    report_is_open,
)
from workups.sheets.bands import yield_figure
from workups.sheets.yield_report import deviations, drying_line, mass_balance
from workups.web.access import CourseAccess, current_person, get_work_for
from workups.web.bench.tables import target_tables
from workups.web.reports.forms import QueryForm, ReportForm
from workups.web.requests import HtmxRequest
from workups.web.schemes import planned_beside_done, scheme_of_plan


@require_safe
def show_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    return render_report(request, access, work)


def render_report(
    request: HtmxRequest, access: CourseAccess, work: Work, **forms: Any
) -> HttpResponse:
    moment = moment_of(work)
    if moment is Moment.PLANNING:
        context = {"access": access, "work": work}
        return render(request, "workups/reports/before_report.html", context)
    record = work.bench_record
    context = {
        "access": access,
        "work": work,
        "is_released": moment is Moment.RELEASED,
        "is_open": report_is_open(work) and not access.course.is_archived,
        "page": report_page(work, moment),
        **record_in_words(work, moment),
        **(pictures(work) if may_see_expected(moment) else {}),
        "targets": target_tables(record, work.to_core()) if record else [],
        "form": report_form(work),
        "query_form": QueryForm(),
        **forms,
    }
    return render(request, "workups/reports/show_report.html", context)


def report_form(work: Work, data: Any = None) -> ReportForm:
    return ReportForm(
        data,
        is_required=needs_explanation(work),
        questions=work.to_core().texts.questions,
        answers=work.answers,
        initial={"explanation": work.explanation},
    )


def record_in_words(work: Work, moment: Moment) -> dict[str, Any]:
    """What was done otherwise than planned, drying as recorded, and all products together; after
    release as the mark rests on them, whatever a partner's record did since."""
    is_released = moment is Moment.RELEASED
    snapshot = marked_snapshot(work) if is_released else newest_snapshot(work)
    if snapshot is None or snapshot.readings is None or work.bench_record is None:
        return {}
    exercise = snapshot.exercise_to_core()
    plan = work.bench_record.plan_revision.to_core()
    readings = readings_from_data(snapshot.readings)
    return {
        "deviations": deviations(exercise, plan, readings),
        "drying": [drying_line(line, plan) for line in readings.drying],
        "mass_balance": mass_balance(snapshot.to_core()),
    }


def pictures(work: Work) -> dict[str, Any]:
    """After release: both bands with the mass found for each target, and what the plan does with
    them, beside what was done."""
    snapshot = marked_snapshot(work)
    if snapshot is None:
        return {}
    assessment = snapshot.to_core()
    found = {y.target: y for y in assessment.readings}
    beside = planned_beside_done(snapshot)
    return {
        "figures": [yield_figure(e, found.get(e.target)) for e in assessment.expected],
        "beside": beside,
        "scheme": None if beside else scheme_of_plan(snapshot),
    }


@require_POST
def submit_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = report_form(work, request.POST)
    if not form.is_valid():
        return render_report(request, access, work, form=form)
    try:
        reports.submit_report(
            actor=access.person,
            work=work,
            explanation=form.cleaned_data["explanation"],
            answers=form.answers(),
        )
    except ReadingsAreOpen:
        messages.error(request, "Lock your readings first: the report follows them.")
    except ReportIsClosed:
        messages.error(request, "The report is with your TA and was not returned to you.")
    else:
        messages.success(request, "Your report is handed in.")
    return redirect("show-report", work_id)


@require_POST
def query_mark(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = QueryForm(request.POST)
    if not form.is_valid():
        return render_report(request, access, work, query_form=form)
    try:
        reports.query_mark(actor=access.person, work=work, **form.cleaned_data)
    except ReportIsNotReleased:
        messages.error(request, "Marks can be queried once they are released.")
    else:
        messages.success(request, "Your question is with your TA.")
    return redirect("show-report", work_id)
