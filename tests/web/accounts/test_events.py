"""Signing in, out and failing to is in the server's log, and no line of it can be forged."""

import logging

import pytest
from django.urls import reverse

URL = reverse("sign-in")


@pytest.fixture
def lines(caplog):
    caplog.set_level(logging.INFO, logger="workups.sign_in")
    return lambda: [r.getMessage() for r in caplog.records if r.name == "workups.sign_in"]


def test_in_and_out_by_public_id_and_address(client, student, lines):
    client.post(URL, {"username": "stina.student", "password": "correct horse"})
    client.post(reverse("sign-out"))
    who = student.public_id
    assert lines() == [f"{who} signed in from 127.0.0.1", f"{who} signed out from 127.0.0.1"]


def test_a_failure_says_the_name_quoted_and_never_the_password(client, student, lines):
    forged = "x\nroot signed in from 127.0.0.1"
    client.post(URL, {"username": forged, "password": "a secret phrase"})
    (line,) = lines()
    assert line == f"sign-in as {forged!r} failed from 127.0.0.1"
    assert "\n" not in line
    assert "secret" not in line
