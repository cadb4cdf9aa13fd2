from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import SetPasswordForm
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workups.services import accounts
from workups.services.second_step import find_second_step
from workups.services.station import SIGN_IN, TRIES_WINDOW, TooManyTries, begin_try
from workups.web.access import current_person
from workups.web.accounts.devices import devices_of
from workups.web.accounts.forms import (
    EmailForm,
    ForgottenPasswordForm,
    OtherDevicesForm,
    OwnPasswordChangeForm,
    SignInForm,
)
from workups.web.accounts.second_step import may_have_second_step, sign_in_or_wait
from workups.web.accounts.throttle import is_known_here
from workups.web.preferences import safe_next
from workups.web.requests import FORM_METHODS, afterwards, client_address, sent_data


@login_not_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(FORM_METHODS)
def sign_in(request: HttpRequest) -> HttpResponse:
    following = request.POST.get("next", request.GET.get("next", ""))
    if request.user.is_authenticated:
        return redirect(_onward(request, following))
    known = is_known_here(request, request.POST.get("username", ""))
    attempt = None
    if request.method == "POST" and not known:
        try:
            attempt = begin_try(what=SIGN_IN, address=client_address(request))
        except TooManyTries:
            return render_locked(request, TRIES_WINDOW)
    form = SignInForm(request, data=sent_data(request))
    if request.method == "POST" and form.is_valid():
        if attempt is not None:
            attempt.delete()
        return sign_in_or_wait(
            request,
            form.get_user(),
            keep=form.cleaned_data["keep"],
            following=_onward(request, following),
        )
    context = {"form": form, "next": safe_next(request, following, "")}
    return render(request, "workups/accounts/sign_in.html", context)


def _onward(request: HttpRequest, following: str) -> str:
    """The page somebody came for, or where one who came for none works."""
    asked = safe_next(request, following)
    return reverse("show-first-page") if asked == reverse("list-courses") else asked


@login_not_required
def refuse_locked_sign_in(
    request: HttpRequest, *_original: object, **_credentials: object
) -> HttpResponse:
    """Called by django-axes when a name has failed too often from one address."""
    return render_locked(request, settings.AXES_COOLOFF_TIME, name=True)


def render_locked(request: HttpRequest, wait: timedelta, *, name: bool = False) -> HttpResponse:
    """How long it lasts and how to get in sooner; `name`: of one name, not of all from here."""
    minutes = f"{wait.total_seconds() / 60:g}"
    context = {"form": SignInForm(request), "locked_minutes": minutes, "name": name}
    return render(request, "workups/accounts/sign_in.html", context, status=429)


@login_not_required
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    messages.success(request, "You are signed out.")
    return redirect("sign-in")


@login_not_required
@never_cache
@require_http_methods(FORM_METHODS)
def forgot_password(request: HttpRequest) -> HttpResponse:
    """The answer is the same whether or not anybody has this name, and so is its time."""
    form = ForgottenPasswordForm(sent_data(request))
    if request.method == "POST" and form.is_valid():
        words, site = form.cleaned_data["words"], site_of(request)
        return afterwards(
            render(request, "workups/accounts/forgot_password_sent.html"),
            lambda: accounts.request_password_reset(words=words, site=site),
        )
    return render(request, "workups/accounts/forgot_password.html", {"form": form})


@login_not_required
@never_cache
@sensitive_post_parameters("new_password1", "new_password2")
@require_http_methods(FORM_METHODS)
def set_password(request: HttpRequest, person_id: UUID, token: str) -> HttpResponse:
    """Where an invitation's or a reset's link leads."""
    person = accounts.find_person_by_link(person_id, token)
    if person is None:
        return render(request, "workups/accounts/set_password_expired.html", status=410)
    form = SetPasswordForm(person, data=sent_data(request))
    if request.method == "POST" and form.is_valid():
        accounts.set_password(person=person, password=form.cleaned_data["new_password1"])
        messages.success(request, "Your password is set.")
        return sign_in_or_wait(request, person, keep=False, following=reverse("show-first-page"))
    context = {"form": form, "person": person}
    return render(request, "workups/accounts/set_password.html", context)


@never_cache
@sensitive_post_parameters("old_password", "new_password1", "new_password2")
@require_http_methods(FORM_METHODS)
def change_password(request: HttpRequest) -> HttpResponse:
    person = current_person(request)
    form = OwnPasswordChangeForm(person, data=sent_data(request))
    if request.method == "POST" and form.is_valid():
        accounts.set_password(
            person=person,
            password=form.cleaned_data["new_password1"],
            own_session=request.session.session_key,
        )
        update_session_auth_hash(request, person)
        messages.success(request, "Your password is changed. Every other device is signed out.")
        return redirect("show-profile")
    return render(request, "workups/accounts/change_password.html", {"form": form})


@sensitive_post_parameters("password")
@require_http_methods(FORM_METHODS)
def show_profile(request: HttpRequest) -> HttpResponse:
    person = current_person(request)
    form = EmailForm(person, sent_data(request))
    if request.method == "POST" and form.is_valid():
        accounts.change_email(person=person, email=form.cleaned_data["email"])
        messages.success(request, "Your e-mail is changed.")
        return redirect("show-profile")
    return render_profile(request, form, devices_form(request))


@sensitive_post_parameters("password")
@require_POST
def sign_out_devices(request: HttpRequest) -> HttpResponse:
    """One of the person's other devices, or all others."""
    person, form = current_person(request), devices_form(request, request.POST)
    if not form.is_valid():
        return render_profile(request, EmailForm(person), form)
    device = form.chosen()
    if device is None:
        accounts.sign_out_other_devices(person=person, own_session=request.session.session_key)
        messages.success(request, "Every other device is signed out.")
    else:
        accounts.sign_out_device(person=person, session_key=device.session_key, words=device.words)
        messages.success(request, f"Signed out: {device.words}.")
    return redirect("show-profile")


def devices_form(request: HttpRequest, data: QueryDict | None = None) -> OtherDevicesForm:
    person = current_person(request)
    own = request.session.session_key
    return OtherDevicesForm(person, devices_of(person), own, data)


def render_profile(
    request: HttpRequest, form: EmailForm, devices: OtherDevicesForm
) -> HttpResponse:
    person = current_person(request)
    context = {
        "form": form,
        "devices_form": devices,
        "links_made": accounts.links_made_for(person),
        "may_have_second_step": may_have_second_step(person),
        "has_second_step": find_second_step(person) is not None,
    }
    return render(request, "workups/accounts/show_profile.html", context)


def site_of(request: HttpRequest) -> accounts.Site:
    return accounts.Site(origin=f"{request.scheme}://{request.get_host()}")
