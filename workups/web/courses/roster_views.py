import logging
from collections.abc import Callable
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import Enrolment, Person
from workups.selectors.courses import (
    is_stopped_at_sign_in,
    may_be_invited,
    may_be_signed_out,
    people_to_invite,
    roster_of,
)
from workups.services import accounts
from workups.services.courses import LastInstructor, end_enrolment
from workups.services.roster.apply import RosterHasErrors, RosterMovedOn, apply_roster
from workups.services.roster.compare import RosterComparison, compare_roster
from workups.services.roster.read import COLUMNS
from workups.web.access import (
    INSTRUCTOR,
    CourseAccess,
    current_person,
    get_course_for,
    get_enrolment_for,
)
from workups.web.accounts.views import site_of
from workups.web.courses.forms import RosterSearchForm, RosterUploadForm
from workups.web.requests import FORM_METHODS, HtmxRequest

logger = logging.getLogger(__name__)


@require_safe
def show_roster(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR)
    form = RosterSearchForm(request.GET or None, course=access.course)
    chosen = form.cleaned_data if form.is_bound and form.is_valid() else {}
    enrolments = roster_of(
        access.course,
        words=chosen.get("words", ""),
        section=chosen.get("section"),
        role=chosen.get("role", ""),
    )
    context = {
        "access": access,
        "form": form,
        "enrolments": enrolments,
        "invite_count": len(people_to_invite(access.course)),
    }
    template = "show_roster.html" if not request.htmx else "_roster_table.html"
    return render(request, f"workups/courses/{template}", context)


@require_http_methods(FORM_METHODS)
def upload_roster(request: HttpRequest, course_id: UUID) -> HttpResponse:
    """First a preview; the preview's own button then applies exactly what it shows."""
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=True)
    if request.method != "POST":
        return render_upload(request, access, RosterUploadForm())
    form = RosterUploadForm(request.POST, request.FILES)
    if not form.is_valid():
        return render_upload(request, access, form)
    if not form.cleaned_data["digest"] or form.cleaned_data["roster_file"]:
        return render_upload(request, access, form, compare(access, form))
    try:
        apply_roster(
            course=access.course,
            actor=access.person,
            roster=form.roster,
            remove_missing=form.cleaned_data["remove_missing"],
            expected_digest=form.cleaned_data["digest"],
        )
    except RosterHasErrors:
        return render_upload(request, access, form, compare(access, form))
    except RosterMovedOn as moved:
        messages.warning(
            request, "What would change is not what was shown before. Look again, then apply."
        )
        return render_upload(request, access, form, moved.comparison)
    messages.success(request, "The roster is applied.")
    return redirect("show-roster", course_id)


def compare(access: CourseAccess, form: RosterUploadForm) -> RosterComparison:
    return compare_roster(
        course=access.course,
        instructor=access.person,
        roster=form.roster,
        remove_missing=form.cleaned_data["remove_missing"],
    )


def render_upload(
    request: HttpRequest,
    access: CourseAccess,
    form: RosterUploadForm,
    comparison: RosterComparison | None = None,
) -> HttpResponse:
    """The form again; after a preview its text field holds what was in the file."""
    if comparison is not None:
        form = RosterUploadForm(
            initial={
                "roster_text": form.cleaned_data["roster_text"],
                "remove_missing": form.cleaned_data["remove_missing"],
            }
        )
    context = {
        "access": access,
        "form": form,
        "comparison": comparison,
        "columns": COLUMNS,
    }
    return render(request, "workups/courses/upload_roster.html", context)


@require_POST
def invite_people(request: HttpRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, INSTRUCTOR, to_change=True)
    try:
        count = accounts.send_invitations(
            actor=access.person,
            course=access.course,
            people=people_to_invite(access.course),
            site=site_of(request),
        )
    except accounts.MailIsNotTaken as problem:
        logger.exception("invitations could not be sent")
        messages.error(
            request,
            f"The mail server does not take our mail. Invitations sent before: {problem.sent}. "
            "Try again later, or hand over a password link from a person's page.",
        )
    else:
        messages.success(request, f"Invitations sent: {count}.")
    return redirect("show-roster", course_id)


@require_safe
def show_enrolment(request: HttpRequest, enrolment_id: UUID) -> HttpResponse:
    """One person of the roster: what they are here, and the ways to help them in or out."""
    access, enrolment = get_enrolment_for(current_person(request), enrolment_id, INSTRUCTOR)
    return render_enrolment(request, access, enrolment)


def get_person_to(
    may: Callable[[Person, Person], bool], request: HttpRequest, enrolment_id: UUID
) -> tuple[CourseAccess, Enrolment]:
    """A person of the roster for whom `may(instructor, person)` holds."""
    access, enrolment = get_enrolment_for(
        current_person(request), enrolment_id, INSTRUCTOR, to_change=True
    )
    if not may(access.person, enrolment.person):
        raise PermissionDenied("This person looks after their account themselves.")
    return access, enrolment


@require_POST
def make_password_link(request: HttpRequest, enrolment_id: UUID) -> HttpResponse:
    """A link to hand over on paper to somebody who has no password yet; they are told of it."""
    access, enrolment = get_person_to(may_be_invited, request, enrolment_id)
    link = accounts.hand_over_link(
        actor=access.person, person=enrolment.person, course=access.course, site=site_of(request)
    )
    return render_enrolment(request, access, enrolment, link)


@require_POST
def sign_out_everywhere(request: HttpRequest, enrolment_id: UUID) -> HttpResponse:
    """For a student who has lost a device, or left one open."""
    access, enrolment = get_person_to(may_be_signed_out, request, enrolment_id)
    person = enrolment.person
    accounts.sign_out_everywhere(actor=access.person, person=person, course=access.course)
    messages.success(request, f"{person} is signed out on every device.")
    return redirect("show-enrolment", enrolment_id)


@require_POST
def lift_sign_in_stop(request: HttpRequest, enrolment_id: UUID) -> HttpResponse:
    """For a student who is kept out because somebody typed wrong passwords for their name."""
    access, enrolment = get_person_to(may_be_signed_out, request, enrolment_id)
    person = enrolment.person
    accounts.lift_sign_in_stop(actor=access.person, person=person, course=access.course)
    messages.success(request, f"{person} can sign in again at once.")
    return redirect("show-enrolment", enrolment_id)


def render_enrolment(
    request: HttpRequest, access: CourseAccess, enrolment: Enrolment, link: str = ""
) -> HttpResponse:
    context = {
        "access": access,
        "enrolment": enrolment,
        "may_be_invited": may_be_invited(access.person, enrolment.person),
        "may_be_signed_out": may_be_signed_out(access.person, enrolment.person),
        "is_stopped": is_stopped_at_sign_in(enrolment.person),
        "stopped_minutes": f"{settings.AXES_COOLOFF_TIME.total_seconds() / 60:g}",
        "link": link,
        "link_hours": settings.PASSWORD_RESET_TIMEOUT // 3600,
    }
    return render(request, "workups/courses/show_enrolment.html", context)


@require_POST
def remove_person(request: HttpRequest, enrolment_id: UUID) -> HttpResponse:
    access, enrolment = get_enrolment_for(
        current_person(request), enrolment_id, INSTRUCTOR, to_change=True
    )
    try:
        end_enrolment(actor=access.person, enrolment=enrolment)
    except LastInstructor:
        messages.error(request, "The course needs an instructor; this is the last one.")
        return redirect("show-enrolment", enrolment_id)
    messages.success(request, f"{enrolment.person} has left the course.")
    return redirect("show-roster", access.course.public_id)
