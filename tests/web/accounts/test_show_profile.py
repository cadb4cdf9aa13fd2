from datetime import timedelta

from django.urls import reverse

URL = "/me/"


def test_shows_who_one_is(sign_in, student):
    page = sign_in(student).get(URL).content.decode()
    assert "Stina Student" in page
    assert "stina.student" in page


def test_the_email_is_changed_with_the_password(sign_in, student):
    data = {"email": "new@larkmoor.example", "password": "correct horse"}
    assert sign_in(student).post(URL, data).url == URL
    student.refresh_from_db()
    assert student.email == "new@larkmoor.example"


def test_without_the_password_the_email_stays(sign_in, student):
    response = sign_in(student).post(URL, {"email": "new@larkmoor.example", "password": "no"})
    assert response.status_code == 200
    page = response.content.decode()
    assert "This is not your password." in page
    assert "new@larkmoor.example" in page
    student.refresh_from_db()
    assert student.email == "stina.student@larkmoor.example"


def test_other_methods_and_signed_out_visitors(client, sign_in, leads_to_sign_in, student):
    assert leads_to_sign_in(URL)
    assert sign_in(student).put(URL).status_code == 405


def test_the_colour_scheme_is_kept_in_a_cookie_and_leads_back(client, db):
    response = client.post(reverse("set-colour-scheme"), {"scheme": "dark", "next": "/sign-in/"})
    assert response.url == "/sign-in/"
    assert 'data-scheme="dark"' in client.get("/sign-in/").content.decode()


def test_a_colour_scheme_that_does_not_exist_is_refused(client, db):
    assert client.post(reverse("set-colour-scheme"), {"scheme": "plaid"}).status_code == 400
    assert client.get(reverse("set-colour-scheme")).status_code == 405


def test_an_unknown_cookie_counts_as_none(client, db):
    client.cookies["colour_scheme"] = '"><script>'
    assert 'data-scheme="device"' in client.get("/sign-in/").content.decode()


def test_ones_own_password_is_not_guessed_without_a_brake(sign_in, student):
    """In a browser that was left open; after a quarter of an hour it goes on."""
    client = sign_in(student)
    pages = [
        ("show-profile", {"email": "new@larkmoor.example"}, "password"),
        ("change-password", {"new_password1": "x", "new_password2": "x"}, "old_password"),
    ]
    for number in range(8):
        name, data, field = pages[number % 2]
        page = client.post(reverse(name), data | {field: f"guess {number}"}).content.decode()
        assert "This is not your password." in page
    for name, data, field in pages:
        page = client.post(reverse(name), data | {field: "correct horse"}).content.decode()
        assert "Too many wrong passwords." in page
    student.refresh_from_db()
    student.wrong_password_at -= timedelta(minutes=16)
    student.save()
    name, data, field = pages[0]
    assert client.post(reverse(name), data | {field: "correct horse"}).status_code == 302
