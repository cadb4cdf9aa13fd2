"""Whose a session is, and what ends it."""

import pytest
from django.contrib.auth import get_user
from django.contrib.sessions.backends.base import UpdateError
from django.core.management import call_command
from django.http import HttpRequest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pyotp import TOTP

from workups.models import SecondStep, Session
from workups.models.sessions import SessionStore
from workups.services.accounts import Site, password_link
from workups.services.second_step import begin_second_step, confirm_second_step, key_of

PASSWORD, NEW = "correct horse", "quite another phrase"
SITE = Site(origin="http://testserver")


@pytest.fixture(autouse=True)
def _fast_recovery_codes(monkeypatch):
    monkeypatch.setattr("workups.services.second_step.HASH_ROUNDS", 2)


def device(person):
    """A browser of its own on which somebody is signed in."""
    client = Client()
    client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def is_signed_in(client):
    return client.get("/me/").status_code == 200


def code_of(person):
    return TOTP(key_of(SecondStep.objects.get(person=person))).at(int(timezone.now().timestamp()))


def turn_on(client, ta, password=PASSWORD):
    client.get(reverse("set-up-second-step"))
    data = {"code": code_of(ta), "password": password}
    return b"Recovery codes" in client.post(reverse("set-up-second-step"), data).content


def turn_off(client, _ta, password=PASSWORD):
    return client.post(reverse("drop-second-step"), {"password": password}).status_code == 302


def change_password(client, _ta, password=PASSWORD):
    data = {"old_password": password, "new_password1": NEW, "new_password2": NEW}
    return client.post(reverse("change-password"), data).status_code == 302


@pytest.fixture(params=[turn_on, turn_off, change_password])
def change(request, ta):
    """A change of how the TA signs in; the second step is on where it is to be turned off."""
    if request.param is turn_off:
        begin_second_step(person=ta)
        confirm_second_step(person=ta, code=code_of(ta))
    return request.param


def test_a_change_of_how_one_signs_in_ends_all_other_sessions(ta, student, change):
    own, other, another, elses = device(ta), device(ta), device(ta), device(student)
    key = own.session.session_key
    assert change(own, ta)
    assert is_signed_in(own)
    assert is_signed_in(elses)
    assert not is_signed_in(other)
    assert not is_signed_in(another)
    assert own.session.session_key != key
    assert not SessionStore().exists(key)
    assert Session.objects.filter(person=ta).count() == 1


def test_a_change_that_is_refused_ends_nothing(ta, change):
    own, other = device(ta), device(ta)
    assert not change(own, ta, password="not this one")
    assert is_signed_in(own)
    assert is_signed_in(other)


def test_a_link_that_sets_the_password_ends_all_sessions(client, student):
    other = device(student)
    link = password_link(student, SITE).removeprefix(SITE.origin)
    client.post(link, {"new_password1": NEW, "new_password2": NEW})
    assert is_signed_in(client)
    assert not is_signed_in(other)
    assert Session.objects.filter(person=student).count() == 1


def test_whoever_runs_the_server_ends_them_with_the_second_step(ta):
    own = device(ta)
    assert turn_on(own, ta)
    call_command("drop_second_step", ta.sign_in)
    assert not is_signed_in(own)


def test_a_session_knows_who_is_signed_in_there(client, ta):
    client.session["anything"] = 1
    client.session.save()
    assert not Session.objects.filter(person__isnull=False).exists()
    client.post(reverse("sign-in"), {"username": ta.sign_in, "password": PASSWORD})
    assert Session.objects.get(session_key=client.session.session_key).person == ta
    client.post(reverse("sign-out"))
    assert not Session.objects.filter(person=ta).exists()


def test_sessions_that_have_run_out_are_cleared_away(ta, time_machine, settings):
    time_machine.move_to("2026-09-01T08:00:00+00:00", tick=False)
    old = device(ta)
    time_machine.shift(settings.SESSION_COOKIE_AGE + 1)
    new = device(ta)
    call_command("clearsessions")
    assert not SessionStore().exists(old.cookies["sessionid"].value)
    assert is_signed_in(new)


def test_a_session_that_was_ended_does_not_come_back_by_being_saved(ta):
    """A request that was on its way while its session was ended."""
    request = HttpRequest()
    request.session = SessionStore(device(ta).session.session_key)
    assert get_user(request) == ta
    Session.objects.all().delete()
    request.session["seen"] = True
    with pytest.raises(UpdateError):
        request.session.save()
    assert Session.objects.count() == 0
