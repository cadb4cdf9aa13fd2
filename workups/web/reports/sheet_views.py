from contextlib import suppress
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_safe

from workups.chemistry.plan import Plan
from workups.documents import readings_from_data
from workups.grading.assessment import StepReport
from workups.grading.visibility import Moment, shown_steps
from workups.models import AssessmentSnapshot, BenchRecord, Work
from workups.selectors.bench import all_readings
from workups.selectors.exercises import safety_of
from workups.selectors.marks import CheckMark, marked_snapshot, marks_of
from workups.selectors.plans import current_plan, submitted_plan
from workups.selectors.reports import moment_of
from workups.selectors.self_checks import draws_scheme, draws_shakes
from workups.services.assessments import assess_publicly, look_publicly
from workups.services.computing import CannotBeCarriedOut
from workups.sheets.bench_sheet import bench_sheet_pdf
from workups.sheets.content import BenchSheet, FlaskLabels, GivenPoints, SheetHead, YieldReport
from workups.sheets.flask_labels import flask_labels_pdf
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import Figure
from workups.sheets.yield_report import yield_report_pdf
from workups.web.access import current_person, get_work_for
from workups.web.bench.tables import reading_rows
from workups.web.requests import HtmxRequest


def sheet_head(work: Work, paper: str = "A4") -> SheetHead:
    course = work.assignment.section.course
    return SheetHead(
        course=str(course),
        section=work.assignment.section.name,
        bench_code=work.bench_code,
        date=timezone.localdate(),
        revision=f"revision {work.revision.number}",
        emergency=str(safety_of(course, [work.to_core()])),
        paper=paper,
    )


def pdf_response(pdf: bytes, name: str) -> HttpResponse:
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}.pdf"'},
    )


def plan_to_print(work: Work) -> Plan | None:
    """The plan at the bench, else the one handed in, else a draft that is filled in."""
    if work.bench_record is not None:
        return work.bench_record.plan_revision.to_core()
    revision = submitted_plan(work) or current_plan(work)
    return revision.to_core() if revision is not None and revision.is_complete else None


@require_safe
def print_bench_sheet(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    _, work = get_work_for(current_person(request), work_id)
    plan = plan_to_print(work)
    if plan is None:
        messages.error(request, "The bench sheet is made from your plan. Fill it in first.")
        return redirect("build-plan", work_id)
    sheet = BenchSheet(sheet_head(work), work.to_core(), plan, scheme_to_print(work, plan))
    return pdf_response(bench_sheet_pdf(sheet), f"bench-sheet-{work.bench_code}")


def scheme_to_print(work: Work, plan: Plan) -> Figure | None:
    """The scheme of the plan, as far as the exercise lets its student see it."""
    if not draws_scheme(work):
        return None
    steps: tuple[StepReport, ...] = ()
    if draws_shakes(work):
        with suppress(CannotBeCarriedOut):
            steps = shown_steps(look_publicly(work, plan), Moment.PLANNING)
    return scheme_figure(work.to_core(), plan, steps, shares_only=True)


@require_safe
def print_flask_labels(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    _, work = get_work_for(current_person(request), work_id)
    plan = plan_to_print(work)
    if plan is None:
        messages.error(request, "The labels are made from your plan. Fill it in first.")
        return redirect("build-plan", work_id)
    sheet = FlaskLabels(sheet_head(work), work.to_core(), plan, steps_to_label(work, plan))
    return pdf_response(flask_labels_pdf(sheet), f"flask-labels-{work.bench_code}")


def steps_to_label(work: Work, plan: Plan) -> tuple[StepReport, ...]:
    """What a plan's flasks hold by public numbers, for their hazards; nothing where it fails."""
    try:
        return shown_steps(assess_publicly(work, plan), Moment.PLANNING)
    except CannotBeCarriedOut:
        return ()


@require_safe
def print_yield_report(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    _, work = get_work_for(current_person(request), work_id)
    snapshot = marked_snapshot(work)
    if moment_of(work) is not Moment.RELEASED or snapshot is None or snapshot.readings is None:
        messages.error(request, "The report can be printed once it is released.")
        return redirect("show-report", work_id)
    pdf = yield_report_pdf(yield_report_of(work, snapshot))
    return pdf_response(pdf, f"yield-report-{work.bench_code}")


def yield_report_of(work: Work, snapshot: AssessmentSnapshot) -> YieldReport:
    marks = marks_of(work)
    comments = work.review.comments.filter(for_staff=False)
    return YieldReport(
        head=sheet_head(work),
        exercise=snapshot.exercise_to_core(),
        plan=snapshot.plan_revision.to_core(),
        readings=readings_from_data(snapshot.readings),
        assessment=snapshot.to_core(),
        given=tuple(given_points(mark) for mark in marks.checks if mark.adjustments)
        if marks
        else (),
        comment="\n\n".join(comment.text for comment in comments),
        with_diagnosis=True,
        bench_plan=snapshot.bench_record.plan_revision.to_core() if snapshot.bench_record else None,
        struck=struck_readings(snapshot.bench_record) if snapshot.bench_record else (),
        answers=tuple((one["question"], one["answer"]) for one in work.answers),
    )


def struck_readings(record: BenchRecord) -> tuple[tuple[str, str, str], ...]:
    """What was read, its value, and why it does not hold."""
    return tuple(
        (row.reading.get_kind_display(), row.reading.shown_value, row.reason)
        for row in reading_rows(all_readings(record))
        if row.struck
    )


def given_points(mark: CheckMark) -> GivenPoints:
    reasons = "; ".join(a.reason for a in mark.adjustments)
    return GivenPoints(mark.check.name, mark.points, reasons)
