from time import monotonic
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
from workups.selectors.review import assignments_overdue
from workups.services import reports, review
from workups.services.assessments import compute_assessment
from workups.services.computing import CannotBeCarriedOut
from workups.services.gradebook import export_gradebook as export_marks
from workups.services.gradebook import set_outside_ids as save_outside_ids
from workups.services.review import NothingToRelease, results_wait
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
    get_assignment_for,
    get_course_for,
    get_revision_for,
)
from workups.web.optimistic_lock import locked_if_sent
from workups.web.reports.sheet_views import pdf_response
from workups.web.requests import HtmxRequest, sent_data
from workups.web.review.forms import GradebookForm, OutsideIdsForm, ReasonForm


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


@require_http_methods(["GET", "HEAD", "POST"])
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


SECONDS_PER_REQUEST = 12.0


@require_POST
def release_section(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(
        current_person(request), assignment_id, to_change=True
    )
    try:
        released = review.release_section(actor=access.person, assignment=assignment)
    except NothingToRelease:
        messages.warning(request, "No report of this section waits for its release.")
    else:
        what = "One result" if released.count == 1 else f"{released.count} results"
        verb = "is" if released.count == 1 else "are"
        wait = (
            " Students see them once no other section takes readings any more."
            if released.held_back
            else ""
        )
        if released.count:
            messages.success(request, f"{what} of {assignment.section} {verb} released.{wait}")
        if released.not_assessed:
            messages.warning(
                request,
                f"{how_many(released.not_assessed, 'accepted report')} left where "
                f"{'it' if released.not_assessed == 1 else 'they'} stood: something new in "
                "it is not assessed.",
            )
    return redirect("review-queue", access.course.public_id)


@require_http_methods(["GET", "HEAD", "POST"])
def open_results(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(
        current_person(request), assignment_id, INSTRUCTOR, to_change=True
    )
    form = ReasonForm(sent_data(request), label="Why they are let out now")
    if request.method == "POST" and form.is_valid():
        review.open_results(
            actor=access.person, assignment=assignment, reason=form.cleaned_data["reason"]
        )
        messages.success(request, f"Students of {assignment.section} see released results now.")
        return redirect("review-queue", access.course.public_id)
    context = {
        "access": access,
        "assignment": assignment,
        "form": form,
        "waits": results_wait(assignment),
    }
    return render(request, "workups/review/open_results.html", context)


@require_POST
def lock_overdue(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    """Bring in records whose date has passed, as many as fit into one request."""
    access = get_course_for(current_person(request), course_id, TEACHING, to_change=True)
    end = monotonic() + SECONDS_PER_REQUEST

    def has_time() -> bool:
        return monotonic() < end

    locked = assessed = 0
    for assignment in assignments_overdue(access.enrolment):
        locked += len(reports.lock_overdue(assignment=assignment, go_on=has_time))
        assessed += len(reports.assess_left_over(assignment=assignment, go_on=has_time))
    said = []
    if locked or not assessed:
        said.append(f"{how_many(locked, 'record')} locked and assessed.")
    if assessed:
        said.append(f"{how_many(assessed, 'report')} assessed.")
    if assignments_overdue(access.enrolment):
        said.append("There are more: press again.")
    messages.success(request, " ".join(said))
    return redirect("review-queue", access.course.public_id)


def how_many(count: int, noun: str) -> str:
    return f"One {noun} is" if count == 1 else f"{count} {noun}s are"
