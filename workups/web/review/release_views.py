from time import monotonic
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from workups.selectors.review import assignments_overdue
from workups.services import reports, review
from workups.services.review import NothingToRelease, results_wait
from workups.web.access import (
    INSTRUCTOR,
    TEACHING,
    current_person,
    get_assignment_for,
    get_course_for,
)
from workups.web.requests import HtmxRequest, sent_data
from workups.web.review.forms import ReasonForm

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
        if released.left:
            messages.warning(
                request,
                f"{how_many(released.left, 'accepted report')} left where "
                f"{'it' if released.left == 1 else 'they'} stood: something new in it is not "
                "assessed, or a partner corrects the readings.",
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
