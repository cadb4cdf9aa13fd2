from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from workups.documents import DocumentError
from workups.selectors.exercises import assignments_seen_by
from workups.selectors.prep_sheets import prep_sheet, prep_weeks
from workups.services.model_runs import ModelPlanFails
from workups.sheets.bundle import bundle_pdf
from workups.sheets.prep_sheet import drawn, prep_sheets_pdf
from workups.sheets.ta_sheet import ta_sheet_pdf
from workups.web.access import STAFF, TEACHING, current_person, get_assignment_for, get_course_for
from workups.web.authoring.forms import PaperForm, PrepForm
from workups.web.authoring.staff_sheets import (
    assignments_of_week,
    section_pages,
    section_prep_sheet,
    section_safety,
    ta_sheet,
    week_prep_sheets,
)
from workups.web.reports.sheet_views import pdf_response
from workups.web.requests import HtmxRequest


@require_safe
def list_prep_sheets(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, STAFF)
    form = PaperForm(request.GET or None)
    form.is_valid()
    context = {
        "access": access,
        "weeks": prep_weeks(access.enrolment),
        "form": form,
        "query": f"?paper={form.paper_size()}" if form.is_bound else "",
    }
    return render(request, "workups/authoring/list_prep_sheets.html", context)


@require_safe
def show_prep_sheet(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(current_person(request), assignment_id, STAFF)
    form = prep_form(request)
    sheet = prep_sheet(assignment, form.terms())
    context = {
        "access": access,
        "assignment": assignment,
        "form": form,
        "sheet": sheet,
        "pictograms": drawn(sheet.pictograms),
        "safety": section_safety(assignment),
        "query": request.GET.urlencode() if form.is_bound and not form.errors else "",
    }
    return render(request, "workups/authoring/show_prep_sheet.html", context)


def prep_form(request: HtmxRequest) -> PrepForm:
    form = PrepForm(request.GET or None)
    form.is_valid()
    return form


@require_safe
def print_prep_sheet(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    _, assignment = get_assignment_for(current_person(request), assignment_id, STAFF)
    form = prep_form(request)
    sheets = section_prep_sheet(assignment, form.terms(), form.paper_size())
    return pdf_response(prep_sheets_pdf(sheets), f"prep-sheet-{assignment.revision.key}")


@require_safe
def print_week(request: HtmxRequest, course_id: UUID, year: int, week: int) -> HttpResponse:
    """All prep sheets of a week (ISO 8601) in one file, the total first."""
    access = get_course_for(current_person(request), course_id, STAFF)
    seen = assignments_seen_by(access.enrolment).order_by("plan_due", "section__name")
    assignments = assignments_of_week(list(seen), year, week)
    if not assignments:
        messages.info(request, "Nothing is to be put out in that week.")
        return redirect("list-prep-sheets", course_id)
    form = prep_form(request)
    sheets = week_prep_sheets(assignments, form.terms(), form.paper_size())
    return pdf_response(prep_sheets_pdf(sheets), f"prep-sheets-{year}-{week}")


@require_safe
def print_section(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    """Prep sheet, bench sheets and labels of a section in one file."""
    _, assignment = get_assignment_for(current_person(request), assignment_id, STAFF)
    form = prep_form(request)
    pages = section_pages(assignment, form.terms(), form.paper_size())
    return pdf_response(bundle_pdf(pages), f"section-{assignment.revision.key}")


@require_safe
def print_ta_sheet(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    """What staff may expect; not for the stockroom, which hands out sheets to students."""
    _, assignment = get_assignment_for(current_person(request), assignment_id, TEACHING)
    try:
        sheet = ta_sheet(assignment, prep_form(request).paper_size())
    except (DocumentError, ModelPlanFails) as error:
        messages.error(request, f"The model plan cannot be carried out any more: {error}")
        return redirect("show-prep-sheet", assignment_id)
    return pdf_response(ta_sheet_pdf(sheet), f"ta-sheet-{assignment.revision.key}")
