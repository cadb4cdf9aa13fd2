from uuid import UUID

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workups.selectors.exercises import assignments_seen_by
from workups.selectors.prep_sheets import prep_sheet
from workups.selectors.progress import progress_of
from workups.web.access import STAFF, current_person, get_course_for
from workups.web.authoring.access import get_assignment_for
from workups.web.authoring.forms import USUAL_SPARE, SpareForm
from workups.web.requests import HtmxRequest


@require_safe
def list_prep_sheets(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, STAFF)
    assignments = list(assignments_seen_by(access.enrolment).order_by("report_due"))
    progress = progress_of(assignments)
    lines = [(assignment, progress[assignment.pk]) for assignment in assignments]
    return render(
        request, "workups/authoring/list_prep_sheets.html", {"access": access, "lines": lines}
    )


@require_safe
def show_prep_sheet(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(current_person(request), assignment_id, STAFF)
    form = SpareForm(request.GET or None)
    spare = form.cleaned_data["spare"] if form.is_valid() else USUAL_SPARE
    context = {
        "access": access,
        "assignment": assignment,
        "form": form,
        "spare": spare,
        "sheet": prep_sheet(assignment, spare / 100),
    }
    return render(request, "workups/authoring/show_prep_sheet.html", context)
