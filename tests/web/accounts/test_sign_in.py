import pytest
from django.conf import settings
from django.contrib.auth import hashers
from django.test import Client
from django.urls import reverse

URL = "/sign-in/"
GOOD = {"username": "stina.student", "password": "correct horse"}


@pytest.fixture(autouse=True)
def _people(student):
    """Everybody signs in as the student."""


def is_signed_in(client):
    return "_auth_user_id" in client.session


def test_the_form_is_shown_to_anybody(client):
    response = client.get(URL)
    assert response.status_code == 200
    assert "Sign-in name" in response.content.decode()


def test_name_and_password_lead_to_the_courses(client):
    response = client.post(URL, GOOD)
    assert response.status_code == 302
    assert response.url == "/first-page/"
    assert is_signed_in(client)


@pytest.mark.parametrize("name", ["STINA.Student", " stina.student ", "ｓtina.student"])
def test_the_sign_in_name_minds_neither_case_nor_width(client, name):
    client.post(URL, GOOD | {"username": name})
    assert is_signed_in(client)


@pytest.mark.parametrize("data", [{}, {"username": "stina.student"}, GOOD | {"password": "wrong"}])
def test_anything_else_shows_the_form_again(client, data):
    response = client.post(URL, data)
    assert response.status_code == 200
    assert not is_signed_in(client)


def test_an_inactive_person_stays_out(client, student):
    student.is_active = False
    student.save()
    client.post(URL, GOOD)
    assert not is_signed_in(client)


def test_after_signing_in_the_page_asked_for_is_shown(client):
    response = client.post(URL, GOOD | {"next": "/me/"})
    assert response.url == "/me/"


@pytest.mark.parametrize(
    "elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "/\\x", "x", "a\x00b"]
)
def test_signing_in_never_leads_to_another_site(client, elsewhere):
    assert client.post(URL, GOOD | {"next": elsewhere}).url == "/first-page/"
    assert client.get(URL, {"next": elsewhere}).url == "/first-page/"


def test_the_session_ends_with_the_browser_unless_asked_to_keep(client):
    client.post(URL, GOOD)
    assert client.session.get_expire_at_browser_close()
    client.logout()
    client.post(URL, GOOD | {"keep": "on"})
    assert not client.session.get_expire_at_browser_close()


def test_somebody_signed_in_is_sent_on(client):
    client.post(URL, GOOD)
    assert client.get(URL).status_code == 302


def test_too_many_wrong_passwords_lock_the_name_at_this_address_only(client):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = client.post(URL, GOOD | {"password": "wrong"})
    assert response.status_code == 429
    assert "Too many wrong passwords" in response.content.decode()
    assert client.post(URL, GOOD).status_code == 429
    assert client.post(URL, GOOD | {"username": "STINA.student"}).status_code == 429
    assert client.post(URL, GOOD, REMOTE_ADDR="192.0.2.7").status_code == 302


def test_another_name_at_the_locked_address_still_gets_in(client, instructor):
    for _ in range(settings.AXES_FAILURE_LIMIT):
        client.post(URL, GOOD | {"password": "wrong"})
    response = client.post(URL, {"username": "iris.instructor", "password": "correct horse"})
    assert response.status_code == 302


def test_only_get_and_post_are_taken(client):
    assert client.put(URL).status_code == 405


def test_signing_out_needs_a_post_and_ends_the_session(client):
    client.post(URL, GOOD)
    assert client.get(reverse("sign-out")).status_code == 405
    response = client.post(reverse("sign-out"))
    assert response.url == URL
    assert not is_signed_in(client)


def guess(times, **where):
    """Somebody else, in a browser of their own, guesses the student's password."""
    other = Client()
    for _ in range(times):
        response = other.post(URL, GOOD | {"password": "wrong"}, **where)
    return response


def test_others_guesses_are_not_in_the_way_of_whoever_signed_in_here_before(client):
    client.post(URL, GOOD)
    client.post(reverse("sign-out"))
    assert guess(settings.AXES_FAILURE_LIMIT).status_code == 429
    assert client.post(URL, GOOD).status_code == 302


def test_a_known_device_counts_for_itself(client):
    client.post(URL, GOOD)
    client.post(reverse("sign-out"))
    for _ in range(settings.AXES_FAILURE_LIMIT):
        response = client.post(URL, GOOD | {"password": "wrong"})
    assert response.status_code == 429
    assert Client().post(URL, GOOD).status_code == 302


def test_a_device_is_known_for_the_names_that_signed_in_there_alone(client, instructor):
    client.post(URL, {"username": "iris.instructor", "password": "correct horse"})
    client.post(reverse("sign-out"))
    guess(settings.AXES_FAILURE_LIMIT)
    assert client.post(URL, GOOD).status_code == 429


def test_a_forged_or_old_cookie_makes_no_known_device(client):
    client.post(URL, GOOD)
    kept = client.cookies[settings.KNOWN_DEVICE_COOKIE_NAME]
    assert kept["httponly"]
    assert kept["samesite"] == "Lax"
    client.post(reverse("sign-out"))
    client.cookies[settings.KNOWN_DEVICE_COOKIE_NAME] = kept.value[:-2] + "xx"
    guess(settings.AXES_FAILURE_LIMIT)
    assert client.post(URL, GOOD).status_code == 429


def test_the_page_says_how_long_and_how_to_get_in_sooner():
    page = guess(settings.AXES_FAILURE_LIMIT).content.decode()
    assert "in 15 minutes" in page
    assert "on a device where you have signed in before" in page
    assert reverse("forgot-password") in page


@pytest.mark.parametrize(("bound", "elsewhere"), [("OF_AN_ADDRESS", 200), ("OF_ALL", 429)])
def test_names_tried_one_after_the_other_cost_a_bounded_number_of_hashes(
    client, monkeypatch, bound, elsewhere
):
    client.post(URL, GOOD)
    client.post(reverse("sign-out"))
    monkeypatch.setattr(f"workups.services.station.TRIES_{bound}", 3)
    hashed = []
    encode = hashers.MD5PasswordHasher.encode

    def counting(self, password, salt):
        hashed.append(password)
        return encode(self, password, salt)

    monkeypatch.setattr(hashers.MD5PasswordHasher, "encode", counting)
    stranger = Client()
    answers = [
        stranger.post(URL, {"username": f"nobody{n}", "password": "guess"}).status_code
        for n in range(6)
    ]
    assert answers == [200, 200, 200, 429, 429, 429]
    assert len(hashed) == 3
    there = Client().post(
        URL, {"username": "nobody", "password": "guess"}, REMOTE_ADDR="192.0.2.7"
    )
    assert there.status_code == elsewhere
    assert client.post(URL, GOOD).status_code == 302
