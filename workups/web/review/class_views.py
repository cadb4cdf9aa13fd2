from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from workups.selectors.class_picture import TargetYields, class_picture
from workups.selectors.exercises import revisions_of
from workups.services.gradebook import export_gradebook as export_marks
from workups.sheets.class_yields import SectionDots, class_yields_figure
from workups.sheets.svg import Figure
from workups.web.access import INSTRUCTOR, TEACHING, current_person, get_course_for
from workups.web.authoring.access import get_revision_for
from workups.web.requests import HtmxRequest, sent_data
from workups.web.review.forms import GradebookForm


@require_safe
def show_class(request: HtmxRequest, revision_id: UUID) -> HttpResponse:
    access, revision = get_revision_for(current_person(request), revision_id, TEACHING)
    picture = class_picture(revision, access.enrolment)
    context = {
        "access": access,
        "revision": revision,
        "picture": picture,
        "figures": [figure_of(target) for target in picture.targets],
    }
    return render(request, "workups/review/show_class.html", context)


def figure_of(target: TargetYields) -> Figure:
    dots = [SectionDots(s.name, s.percents, s.median) for s in target.sections]
    return class_yields_figure(target.name, target.band, dots)


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
    return render(
        request, "workups/review/export_gradebook.html", {"access": access, "form": form}
    )
