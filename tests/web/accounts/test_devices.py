"""A person sees where they are signed in, and signs devices out, with the password."""

import re
from datetime import datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from workups.models import AuditEntry, Session
from workups.web.accounts.devices import device_words

PROFILE, SIGN_OUT = reverse("show-profile"), reverse("sign-out-devices")
PASSWORD = "correct horse"
LINUX = "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko)"
FIREFOX = "Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0"
CHROMIUM = f"{LINUX} Chrome/140.0.0.0 Safari/537.36"
IPHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_6 like Mac OS X) Version/18.6 Safari/604.1"


@pytest.fixture(autouse=True)
def _clock(time_machine):
    time_machine.move_to("2026-09-01T08:20:00+00:00", tick=False)


def device(person, user_agent, keep=None):
    client = Client(headers={"User-Agent": user_agent})
    answer = {"username": person.sign_in, "password": PASSWORD} | (keep or {})
    assert client.post(reverse("sign-in"), answer).status_code == 302
    return client


def is_signed_in(client):
    return client.get(PROFILE).status_code == 200


def choices(client):
    """The other devices on the page: key by words."""
    page = client.get(PROFILE).content.decode()
    found = re.findall(r'name="device" value="([^"]+)"[^>]*>\s*([^<:]+)', page)
    return {words.strip(): key for key, words in found}


@pytest.mark.parametrize(
    ("user_agent", "words"),
    [
        (FIREFOX, "Firefox on Windows"),
        (CHROMIUM, "Chrome or Chromium on Linux"),
        (IPHONE, "Safari on iPhone"),
        (f"{LINUX} Chrome/140.0.0.0 Safari/537.36 Edg/140.0.0.0", "Edge on Linux"),
        ("Mozilla/5.0 (Linux; Android 15) Chrome/140.0 Mobile", "Chrome or Chromium on Android"),
        ("", "Unknown browser"),
        ("<b>Firefox/1", "Firefox"),
    ],
)
def test_a_browser_and_its_system_in_plain_words(user_agent, words):
    assert device_words(user_agent) == words


def test_the_page_says_where_one_is_signed_in(student, ta, time_machine):
    laptop = device(student, CHROMIUM)
    device(ta, FIREFOX)
    assert "On no other device." in laptop.get(PROFILE).content.decode()
    time_machine.shift(timedelta(hours=2))
    phone = device(student, IPHONE)
    page = phone.get(PROFILE).content.decode()
    assert "this device</span> Safari on iPhone: signed in 1 Sep, 10:20" in page
    assert "Chrome or Chromium on Linux: signed in 1 Sep, 08:20" in page
    assert "last used about 1 Sep, 08:20" in page  # not before it was signed in
    assert "Firefox" not in page
    assert laptop.session.session_key not in page


def test_one_device_is_signed_out(student):
    laptop, phone, tablet = (device(student, agent) for agent in (CHROMIUM, IPHONE, FIREFOX))
    key = choices(laptop)["Safari on iPhone"]
    assert laptop.post(SIGN_OUT, {"device": key, "password": PASSWORD}).url == PROFILE
    assert [is_signed_in(client) for client in (laptop, phone, tablet)] == [True, False, True]
    assert set(choices(laptop)) == {"Firefox on Windows", "All of these"}
    entry = AuditEntry.objects.get(action="sign-out-device")
    assert (entry.actor, entry.details) == (student, {"device": "Safari on iPhone"})


def test_all_others_are_signed_out_at_once(student, ta):
    laptop, phone, tablet = (device(student, agent) for agent in (CHROMIUM, IPHONE, FIREFOX))
    elses = device(ta, IPHONE)
    assert laptop.post(SIGN_OUT, {"device": "all", "password": PASSWORD}).url == PROFILE
    assert [is_signed_in(client) for client in (laptop, phone, tablet)] == [True, False, False]
    assert is_signed_in(elses)
    assert AuditEntry.objects.filter(action="sign-out-other-devices").count() == 1


@pytest.mark.parametrize(
    "wrong", [{"password": "not this"}, {"password": ""}, {"device": ""}, {"device": "x"}]
)
def test_without_the_password_and_a_choice_nobody_is_signed_out(student, wrong):
    laptop, phone = device(student, CHROMIUM), device(student, IPHONE)
    key = choices(laptop)["Safari on iPhone"]
    response = laptop.post(SIGN_OUT, {"device": key, "password": PASSWORD} | wrong)
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()
    assert ("checked" in response.content.decode()) is ("password" in wrong)
    assert is_signed_in(phone)


def test_nobody_signs_out_the_device_of_somebody_else(student, ta):
    theirs, own = device(ta, FIREFOX), device(student, CHROMIUM)
    key = theirs.session["device"]["key"]
    assert own.post(SIGN_OUT, {"device": key, "password": PASSWORD}).status_code == 200
    assert is_signed_in(theirs)


def test_it_is_for_people_signed_in_and_only_sent(client, leads_to_sign_in, student):
    assert leads_to_sign_in(SIGN_OUT, "post")
    assert device(student, FIREFOX).get(SIGN_OUT).status_code == 405


def used(client):
    return datetime.fromisoformat(client.session["device"]["used"])


def test_use_is_noted_once_an_hour(student, time_machine, django_assert_num_queries):
    laptop = device(student, CHROMIUM)
    began = timezone.now()
    time_machine.shift(timedelta(minutes=59))
    laptop.get(PROFILE)
    assert used(laptop) == began
    time_machine.shift(timedelta(minutes=1))
    laptop.get(PROFILE)
    assert used(laptop) == timezone.now()
    with django_assert_num_queries(2):  # the session and who it is
        laptop.get(SIGN_OUT)


@pytest.mark.parametrize("keep", [{}, {"keep": "on"}])
def test_use_does_not_make_a_session_last_longer(student, time_machine, settings, keep):
    laptop = device(student, CHROMIUM, keep)
    ends = timezone.now() + timedelta(seconds=settings.SESSION_COOKIE_AGE)
    for _ in range(6):
        time_machine.shift(timedelta(days=1))
        response = laptop.get(PROFILE)
        assert response.status_code == 200
        assert settings.SESSION_COOKIE_NAME not in response.cookies
        assert Session.objects.get(person=student).expire_date == ends
    time_machine.shift(timedelta(days=1, seconds=1))
    assert not is_signed_in(laptop)


def test_a_session_that_has_run_out_is_not_listed(student, time_machine):
    device(student, IPHONE)
    time_machine.shift(timedelta(days=8))
    assert choices(device(student, CHROMIUM)) == {}


def test_a_session_of_an_old_password_is_not_listed(student):
    """As after Django's own `changepassword`, which leaves the rows."""
    device(student, IPHONE)
    student.set_password(PASSWORD)
    student.save()
    assert choices(device(student, CHROMIUM)) == {}


def test_a_seat_at_the_station_leaves_the_device_in_the_list(student):
    """A seat gives the browser's session a new key; it goes on being that device."""
    laptop, phone = device(student, CHROMIUM), device(student, IPHONE)
    session = phone.session
    session.cycle_key()
    session["station"] = {"work": str(student.public_id), "until": 0}
    session.save()
    phone.cookies["sessionid"] = session.session_key
    key = choices(laptop)["Safari on iPhone"]
    assert is_signed_in(phone)
    laptop.post(SIGN_OUT, {"device": key, "password": PASSWORD})
    assert not is_signed_in(phone)
