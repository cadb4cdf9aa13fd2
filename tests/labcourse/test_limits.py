"""How much a request may bring, and what a line of the log says."""

import logging
import re

import pytest
from django.conf import settings
from django.urls import reverse

MOST = settings.MOST_BYTES_OF_A_REQUEST


class NeverRead:
    """A body whose first byte is one too many."""

    def read(self, *_sizes):
        raise AssertionError("the body was read")

    readline = read


@pytest.mark.parametrize("announced", [MOST + 1, 10**12, 10**30])
def test_a_body_that_is_too_large_is_refused_unread(client, db, announced):
    response = client.post(
        reverse("sign-in"), CONTENT_LENGTH=str(announced), **{"wsgi.input": NeverRead()}
    )
    assert response.status_code == 413
    assert "Nothing was saved" in response.content.decode()


@pytest.mark.parametrize(
    ("announced", "status"), [("", 200), ("x", 200), ("²", 200), ("-5", 400)]
)
def test_a_length_that_is_none_is_no_failure(client, db, announced, status):
    response = client.post(reverse("sign-in"), {"username": "x"}, CONTENT_LENGTH=announced)
    assert response.status_code == status


def test_the_largest_roster_still_fits(client, instructor, course):
    client.force_login(instructor, backend="django.contrib.auth.backends.ModelBackend")
    text = "name,sign_in,role\n" + "é,e,TA\n" * 140_000
    response = client.post(
        reverse("upload-roster", args=[course.public_id]), {"roster_text": text[:1_000_000]}
    )
    assert response.status_code == 200


def test_a_line_of_the_log_says_its_offset():
    given = settings.LOGGING["formatters"]["line"]
    line = logging.Formatter(given["format"], given["datefmt"]).format(
        logging.makeLogRecord({"msg": "words", "levelname": "INFO", "name": "workups"})
    )
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d{4} INFO workups words", line)
