"""What every answer carries, and what an answer never is."""

import pytest
from django.core.checks import run_checks
from django.db import connection
from django.test import Client
from django.urls import get_resolver, reverse
from django.urls.resolvers import URLPattern

OPEN_TO_ALL = {
    "sign-in",
    "confirm-sign-in",
    "sign-out",
    "forgot-password",
    "set-password",
    "set-colour-scheme",
    "service-worker",
    "enter-station",
    "record-at-station",
    "stay-at-station",
    "leave-station",
}


def policy_of(response):
    directives = response.headers["Content-Security-Policy"].split(";")
    return dict(directive.strip().split(" ", 1) for directive in directives)


def test_nothing_inline_and_nothing_from_outside(client, db):
    policy = policy_of(client.get("/sign-in/"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in str(policy)
    assert "http" not in str(policy)


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("X-Content-Type-Options", "nosniff"),
        ("X-Frame-Options", "DENY"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("Cross-Origin-Resource-Policy", "same-origin"),
    ],
)
def test_the_other_headers(client, db, header, value):
    assert client.get("/sign-in/").headers[header] == value
    assert "camera=()" in client.get("/sign-in/").headers["Permissions-Policy"]


def test_pages_of_somebody_signed_in_are_never_kept(client, student):
    client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/").headers["Cache-Control"] == "private, no-store"


def test_a_live_part_of_an_ended_session_leads_the_whole_page_to_sign_in(client, db):
    response = client.get(
        "/",
        headers={"HX-Request": "true", "HX-Current-URL": "http://testserver/me/"},
    )
    assert response.headers["HX-Redirect"] == f"{reverse('sign-in')}?next=%2Fme%2F"


def test_every_page_but_a_few_needs_sign_in():
    """Django's middleware asks for it unless a view says otherwise; this is who says so."""
    exempt = {
        pattern.name
        for pattern in walk(get_resolver().url_patterns)
        if not getattr(pattern.callback, "login_required", True)
    }
    assert exempt == OPEN_TO_ALL


def walk(patterns):
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            yield pattern
        else:
            yield from walk(pattern.url_patterns)


def test_a_page_that_is_not_there(client, student):
    client.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    response = client.get("/nowhere/")
    assert response.status_code == 404
    assert "There is no such page" in response.content.decode()


def test_a_form_without_its_token_is_refused_in_plain_words(student):
    client = Client(enforce_csrf_checks=True)
    response = client.post("/sign-in/", {"username": "x", "password": "y"})
    assert response.status_code == 403
    assert "This form is out of date" in response.content.decode()


def test_a_forgotten_host_is_refused(client, db):
    assert client.get("/sign-in/", headers={"Host": "elsewhere.example"}).status_code == 400


def test_the_project_passes_djangos_checks():
    assert run_checks() == []


@pytest.mark.django_db
def test_sqlite_runs_with_the_pragmas_that_the_settings_state(settings):
    if connection.vendor != "sqlite":
        assert connection.vendor == "postgresql"
        return
    stated = settings.DATABASES["default"]["OPTIONS"]
    assert stated["transaction_mode"] == "IMMEDIATE"
    with connection.cursor() as cursor:
        found = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "foreign_keys", "busy_timeout")
        }
    assert found == {"journal_mode": "wal", "foreign_keys": 1, "busy_timeout": 20_000}
