"""Between the password and being signed in: who waits for the second step, and on what terms."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import segno
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workups.models import Enrolment, Person, Role, SecondStep
from workups.services import second_step
from workups.services.second_step import (
    KeyIsLost,
    TooManyCodes,
    WrongCode,
    find_second_step,
    key_of,
)
from workups.web.access import current_person
from workups.web.accounts.events import log_wrong_code
from workups.web.accounts.forms import CodeForm, NewKeyForm, PasswordForm
from workups.web.requests import FORM_METHODS, sent_data

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
    staff = Enrolment.objects.filter(person=person, left_at__isnull=True).exclude(role=Role.STUDENT)
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
    if person is None or not constant_time_compare(person.get_session_auth_hash(), kept["seal"]):
        return None
    return Waiting(person, kept["keep"], kept["following"])


def finish_sign_in(request: HttpRequest, waiting: Waiting) -> HttpResponse:
    request.session.pop(SESSION_KEY, None)
    login(request, waiting.person, backend=SIGN_IN_BACKEND)
    request.session.set_expiry(None if waiting.keep else 0)
    return redirect(waiting.following)


WRONG = "This code is wrong, too old or used already."
KEY_IS_LOST = (
    "The key of your authenticator can no longer be read here: the server's own secret has "
    "changed. Use a recovery code, then turn the second step off and set it up again."
)
TOO_MANY = "Too many wrong codes. Wait a quarter of an hour."


@login_not_required
@never_cache
@sensitive_post_parameters("code")
@require_http_methods(FORM_METHODS)
def confirm_sign_in(request: HttpRequest) -> HttpResponse:
    """The second step, for somebody whose password was right in this session."""
    waiting = find_waiting(request)
    if waiting is None:
        return redirect("sign-in")
    form = CodeForm(sent_data(request))
    if request.method == "POST" and form.is_valid():
        try:
            second_step.check_code(person=waiting.person, code=form.cleaned_data["code"])
        except WrongCode:
            log_wrong_code(request, waiting.person)
            form.add_error("code", WRONG)
        except TooManyCodes:
            form.add_error("code", TOO_MANY)
        except KeyIsLost:
            form.add_error("code", KEY_IS_LOST)
        else:
            return finish_sign_in(request, waiting)
    return render(request, "workups/accounts/confirm_sign_in.html", {"form": form})


def staff_person(request: HttpRequest) -> Person:
    person = current_person(request)
    if not may_have_second_step(person):
        raise PermissionDenied("The second step is for staff.")
    return person


@never_cache
@sensitive_post_parameters("code", "password")
@require_http_methods(FORM_METHODS)
def set_up_second_step(request: HttpRequest) -> HttpResponse:
    """Key and QR code, until a code shows that the authenticator has them."""
    person = staff_person(request)
    if second_step.find_second_step(person) is not None:
        return render_settled(request, PasswordForm(person))
    step = second_step.begin_second_step(person=person)
    form = NewKeyForm(person, sent_data(request))
    if request.method == "POST" and form.is_valid():
        try:
            codes = second_step.confirm_second_step(
                person=person,
                code=form.cleaned_data["code"],
                own_session=request.session.session_key,
            )
        except WrongCode:
            form.add_error("code", WRONG)
        except TooManyCodes:
            form.add_error("code", TOO_MANY)
        else:
            update_session_auth_hash(request, person)
            return render(request, "workups/accounts/recovery_codes.html", {"codes": codes})
    return render(request, "workups/accounts/set_up_second_step.html", key_context(step, form))


def key_context(step: SecondStep, form: NewKeyForm) -> dict[str, object]:
    picture = segno.make(second_step.enrolment_uri(step), error="m")
    key = key_of(step)
    groups = [key[at : at + 4] for at in range(0, len(key), 4)]
    return {
        "form": form,
        "is_demanded": settings.SECOND_STEP_DEMANDED and lacks_second_step(step.person),
        "picture": picture.svg_data_uri(scale=5, border=4, light="white"),
        "key": " ".join(groups),
    }


def render_settled(request: HttpRequest, form: PasswordForm) -> HttpResponse:
    return render(request, "workups/accounts/second_step_settled.html", {"form": form})


@sensitive_post_parameters("password")
@require_POST
def drop_second_step(request: HttpRequest) -> HttpResponse:
    person = staff_person(request)
    form = PasswordForm(person, request.POST)
    if not form.is_valid():
        return render_settled(request, form)
    second_step.drop_second_step(
        actor=person, person=person, own_session=request.session.session_key
    )
    update_session_auth_hash(request, person)
    messages.success(
        request,
        "The second step is off: your password alone signs you in. Every other device is "
        "signed out.",
    )
    return redirect("show-profile")
