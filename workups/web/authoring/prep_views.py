from collections.abc import Sequence
from dataclasses import replace
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from workups.documents import DocumentError, dump_exercise
from workups.exercise.exercise import Exercise
from workups.models import Assignment, Course, ExerciseRevision, Work
from workups.selectors.exercises import Safety, assignments_seen_by, safety_of
from workups.selectors.prep_sheets import (
    monday_of,
    prep_sheet,
    prep_sheet_of,
    prep_weeks,
    stock_groups,
)
from workups.selectors.progress import current_works
from workups.services.assessments import seed_for
from workups.services.publishing import ModelPlanFails, assess_model
from workups.services.variants import what_it_gives
from workups.sheets.bench_sheet import bench_sheet_html
from workups.sheets.bundle import bundle_pdf
from workups.sheets.content import BenchSheet, FlaskLabels, SheetHead
from workups.sheets.flask_labels import flask_labels_html
from workups.sheets.prep_lines import PrepTerms
from workups.sheets.prep_sheet import drawn, prep_sheets_html, prep_sheets_pdf
from workups.sheets.staff_content import OwnAmounts, PrepPart, PrepSheets, TaSheet, TaSheetPart
from workups.sheets.ta_sheet import ta_sheet_pdf
from workups.sheets.waste_labels import waste_labels_html
from workups.sheets.wording import day
from workups.web.access import STAFF, TEACHING, current_person, get_assignment_for, get_course_for
from workups.web.authoring.forms import PaperForm, PrepForm
from workups.web.reports.sheet_views import pdf_response, plan_to_print, scheme_to_print, sheet_head
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


# Rows put together for the sheets of stockroom and teaching staff.


def staff_head(course: Course, section: str, paper: str) -> SheetHead:
    return SheetHead(course=str(course), section=section, date=timezone.localdate(), paper=paper)


def section_prep_sheet(assignment: Assignment, terms: PrepTerms, paper: str) -> PrepSheets:
    course = assignment.revision.course
    return PrepSheets(
        staff_head(course, assignment.section.name, paper),
        assignment.revision.title,
        (_prep_part(assignment, terms),),
    )


def _prep_part(assignment: Assignment, terms: PrepTerms) -> PrepPart:
    section = assignment.section
    # Every form of the exercise that somebody of the section has.
    forms = _forms_of([assignment])
    return PrepPart(
        heading=f"{section.name}: {assignment.revision.title}",
        sheet=prep_sheet(assignment, terms),
        note=f"Meets {section.meets}." if section.meets else "",
        cautions=tuple(dict.fromkeys(c for form in forms for c in form.texts.cautions)),
        emergency=str(safety_of(assignment.revision.course, forms)),
    )


def section_safety(assignment: Assignment) -> Safety:
    """What holds in an emergency with every form of the exercise that somebody has."""
    return safety_of(assignment.revision.course, _forms_of([assignment]))


def _forms_of(assignments: Sequence[Assignment]) -> list[Exercise]:
    return [group.exercise for assignment in assignments for group in stock_groups(assignment)]


def week_prep_sheets(assignments: Sequence[Assignment], terms: PrepTerms, paper: str) -> PrepSheets:
    """The week's total first, then each section's own; raises ValueError for no assignment."""
    course = assignments[0].revision.course
    total = PrepPart(
        heading="All sections of the week together",
        sheet=prep_sheet_of(assignments, terms),
        note="; ".join(f"{a.section.name}: {a.revision.title}" for a in assignments),
        emergency=str(safety_of(course, _forms_of(assignments))),
    )
    return PrepSheets(
        staff_head(course, "all sections", paper),
        f"Week of {day(monday_of(assignments[0]))}",
        (total, *(_prep_part(a, terms) for a in assignments)),
    )


def assignments_of_week(
    assignments: Sequence[Assignment], year: int, week: int
) -> list[Assignment]:
    """Those whose plans are due in a week as ISO 8601 counts them."""
    return [a for a in assignments if monday_of(a).isocalendar()[:2] == (year, week)]


def ta_sheet(assignment: Assignment, paper: str) -> TaSheet:
    """What to expect, once for each form of the exercise that somebody of the section has."""
    revision = assignment.revision
    forms: dict[int | None, list[Work]] = {}
    for work in _works_of(assignment):
        forms.setdefault(work.variant_id, []).append(work)
    parts = [_ta_part(revision, works, named=len(forms) > 1) for works in forms.values()]
    if not parts:
        parts = [_assessed(revision, revision.to_core(), revision.document)]
    head = staff_head(revision.course, assignment.section.name, paper)
    return TaSheet(head, revision.title, tuple(parts))


def _ta_part(revision: ExerciseRevision, works: list[Work], *, named: bool) -> TaSheetPart:
    codes = tuple(work.bench_code for work in works) if named else ()
    variant = works[0].variant
    if variant is None or not variant.to_core().spreads:
        part = _assessed(revision, works[0].to_core(), works[0].exercise_text)
        return replace(part, codes=codes)
    common = what_it_gives(variant).exercise
    part = _assessed(revision, common, dump_exercise(common))
    own = tuple(OwnAmounts(work.bench_code, work.to_core()) for work in works)
    return replace(part, codes=codes, own_amounts=own)


def _assessed(revision: ExerciseRevision, exercise: Exercise, document: str) -> TaSheetPart:
    assessment = assess_model(document=document, seed=seed_for(revision))
    emergency = str(safety_of(revision.course, [exercise]))
    return TaSheetPart(exercise, assessment, emergency=emergency)


def _works_of(assignment: Assignment) -> list[Work]:
    works = current_works([assignment.pk]).select_related(
        "assignment__section__course",
        "revision",
        "variant__revision",
        "own_exercise",
        "bench_record",
        "enrolment__person",
    )
    return list(works.order_by("bench_code"))


def section_pages(assignment: Assignment, terms: PrepTerms, paper: str) -> list[str]:
    """The section's prep sheet and waste labels, then the sheets of every student with a plan.

    Ordered by bench code, without a name.
    """
    prep = section_prep_sheet(assignment, terms, paper)
    waste = waste_labels_html(prep.head, prep.title, prep.parts[0].sheet)
    pages = [prep_sheets_html(prep), waste]
    for work in _works_of(assignment):
        pages += _student_pages(work, paper)
    return pages


def _student_pages(work: Work, paper: str) -> list[str]:
    plan = plan_to_print(work)
    if plan is None:
        return []
    head = sheet_head(work, paper)
    snapshot = work.snapshots.first()
    steps = snapshot.to_core().steps if snapshot else ()
    exercise = work.to_core()
    return [
        bench_sheet_html(BenchSheet(head, exercise, plan, scheme_to_print(work, plan))),
        flask_labels_html(FlaskLabels(head, exercise, plan, steps)),
    ]
