from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import ExerciseRevision
from workups.selectors.class_picture import ClassPicture, TargetYields, class_picture
from workups.selectors.exercises import revisions_of
from workups.selectors.gradebook import gradebook_columns
from workups.services.assessments import compute_assessment
from workups.services.computing import CannotBeCarriedOut
from workups.services.gradebook import export_gradebook as export_marks
from workups.services.gradebook import set_outside_ids as save_outside_ids
from workups.sheets.class_report import ClassReport, class_report_pdf
from workups.sheets.class_yields import SectionDots, class_yields_figure
from workups.sheets.content import SheetHead
from workups.sheets.counts import Count, CountsOf, counts_figure
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import Figure
from workups.web.access import (
    INSTRUCTOR,
    TEACHING,
    CourseAccess,
    current_person,
    get_course_for,
    get_revision_for,
)
from workups.web.optimistic_lock import locked_if_sent
from workups.web.reports.sheet_views import pdf_response
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data
from workups.web.review.forms import GradebookForm, OutsideIdsForm


@require_safe
def show_class(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, TEACHING)
    picture = class_picture(revision, access.enrolment)
    context = {
        "access": access,
        "revision": revision,
        "picture": picture,
        "figures": [figure_of(target) for target in picture.targets],
        "findings_figure": findings_figure(picture),
        "causes_figure": causes_figure(picture),
    }
    return render(request, "workups/review/show_class.html", context)


@require_safe
def print_class(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    """The same pictures as on the page, as PDF."""
    access, revision = get_revision_for(current_person(request), revision_id, TEACHING)
    picture = class_picture(revision, access.enrolment)
    seen = ", ".join(s.name for t in picture.targets[:1] for s in t.sections)
    counted = [findings_figure(picture), causes_figure(picture)]
    report = ClassReport(
        head=SheetHead(
            course=str(access.course),
            section=seen,
            date=timezone.localdate(),
            revision=f"revision {revision.number}",
        ),
        title=revision.title,
        reports=picture.reports,
        figures=[
            *(figure_of(target) for target in picture.targets),
            *(figure for figure in counted if figure is not None),
        ],
        scheme=scheme_of_model(revision),
    )
    return pdf_response(class_report_pdf(report), f"class-{revision.key}")


def scheme_of_model(revision: ExerciseRevision) -> Figure | None:
    """What the model plan does; None where it cannot be carried out."""
    try:
        assessment = compute_assessment(revision=revision, plan=None)
    except CannotBeCarriedOut:
        return None
    exercise = revision.to_core()
    return scheme_figure(exercise, exercise.model_plan, assessment.steps, shares_only=False)


def figure_of(target: TargetYields) -> Figure:
    dots = [SectionDots(s.name, s.percents, s.median) for s in target.sections]
    return class_yields_figure(target.name, target.band, dots)


def findings_figure(picture: ClassPicture) -> Figure | None:
    counts = tuple(Count(f.title, f.reports, f.charged) for f in picture.findings)
    if not counts:
        return None
    return counts_figure(
        CountsOf("What was found most", "reports", "cost points", counts, "Finding")
    )


def causes_figure(picture: ClassPicture) -> Figure | None:
    counts = tuple(Count(c.title, c.reports) for c in picture.causes)
    if not counts:
        return None
    return counts_figure(
        CountsOf("Most likely causes of the masses", "reports", "", counts, "Cause")
    )


@require_http_methods(FORM_METHODS)
def export_gradebook(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR)
    form = GradebookForm(sent_data(request), exercises=revisions_of(access.course))
    if request.method == "POST" and form.is_valid():
        text = export_marks(
            actor=access.person,
            course=access.course,
            exercises=list(form.cleaned_data["exercises"]),
            unreleased=form.cleaned_data["unreleased"],
        )
        name = f"marks-{timezone.localdate():%Y-%m-%d}.csv"
        return HttpResponse(
            text,
            content_type="text/csv; charset=utf-8",
            headers={"Content-Disposition": f'attachment; filename="{name}"'},
        )
    return render_gradebook(request, access, form, identifiers_form(access))


def identifiers_form(access: CourseAccess, data: QueryDict | None = None) -> OutsideIdsForm:
    return OutsideIdsForm(data, columns=gradebook_columns(list(revisions_of(access.course))))


def render_gradebook(
    request: HtmxRequest, access: CourseAccess, form: GradebookForm, identifiers: OutsideIdsForm
) -> HttpResponse:
    context = {"access": access, "form": form, "identifiers": identifiers}
    return render(request, "workups/review/export_gradebook.html", context)


@require_POST
def set_outside_ids(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=True)
    with locked_if_sent(request, access.course):
        identifiers = identifiers_form(access, request.POST)
        if not identifiers.is_valid():
            form = GradebookForm(exercises=revisions_of(access.course))
            return render_gradebook(request, access, form, identifiers)
        save_outside_ids(actor=access.person, course=access.course, ids=identifiers.ids())
    messages.success(request, "The identifiers are kept.")
    return redirect("export-gradebook", course_id)
