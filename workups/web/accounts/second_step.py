"""Between the password and being signed in: who waits for the second step, and on what terms."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.utils.crypto import constant_time_compare

from workups.models import Enrolment, Person, Role
from workups.services.second_step import find_second_step

SESSION_KEY = "second_step"
WAITS_FOR = timedelta(minutes=10)
SIGN_IN_BACKEND = "django.contrib.auth.backends.ModelBackend"


@dataclass(frozen=True)
class Waiting:
    """Somebody whose password was right, and what was asked for with it."""

    person: Person
    keep: bool
    following: str


def may_have_second_step(person: Person) -> bool:
    """Staff of any course, and people who may open courses."""
    staff = Enrolment.objects.filter(person=person, left_at__isnull=True).exclude(
        role=Role.STUDENT
    )
    return person.may_open_courses or staff.exists()


def lacks_second_step(person: Person) -> bool:
    """Whether the person teaches, or may open courses, and signs in by the password alone."""
    if find_second_step(person) is not None:
        return False
    teaches = Enrolment.objects.filter(
        person=person, left_at__isnull=True, role__in=(Role.INSTRUCTOR, Role.TA)
    )
    return person.may_open_courses or teaches.exists()


def sign_in_or_wait(
    request: HttpRequest, person: Person, *, keep: bool, following: str
) -> HttpResponse:
    """Sign in, or on to the second step where the person has one."""
    if find_second_step(person) is None:
        return finish_sign_in(request, Waiting(person, keep, following))
    request.session.cycle_key()
    request.session[SESSION_KEY] = {
        "person": str(person.public_id),
        "seal": person.get_session_auth_hash(),
        "since": timezone.now().isoformat(),
        "keep": keep,
        "following": following,
    }
    request.session.set_expiry(0)
    return redirect("confirm-sign-in")


def find_waiting(request: HttpRequest) -> Waiting | None:
    """Who gave the password in this session, unless it was long ago or changed since."""
    kept = request.session.get(SESSION_KEY)
    if not kept or timezone.now() - datetime.fromisoformat(kept["since"]) > WAITS_FOR:
        return None
    person = Person.objects.filter(public_id=kept["person"], is_active=True).first()
    if person is None or not constant_time_compare(
        person.get_session_auth_hash(), kept["seal"]
    ):
        return None
    return Waiting(person, kept["keep"], kept["following"])


def finish_sign_in(request: HttpRequest, waiting: Waiting) -> HttpResponse:
    request.session.pop(SESSION_KEY, None)
    login(request, waiting.person, backend=SIGN_IN_BACKEND)
    request.session.set_expiry(None if waiting.keep else 0)
    return redirect(waiting.following)
