"""A form sent with nothing in it is answered with what is missing, not as if nobody had sent it."""

import pytest
from django.urls import reverse

OF_WORK = {
    "record-entry": ("drying", "dry"),
    "type-sheet": (),
    "set-station-pin": (),
}


def says_what_is_missing(response):
    page = response.content.decode()
    return "Not saved yet" in page or "errorlist" in page


@pytest.mark.parametrize("name", OF_WORK)
def test_a_page_of_a_work(sign_in, student, bench_work, name):
    url = reverse(name, args=[bench_work.public_id, *OF_WORK[name]])
    assert says_what_is_missing(sign_in(student).post(url, {}))


@pytest.mark.parametrize("name", ["sign-in", "forgot-password", "enter-station"])
def test_a_page_open_to_all(client, db, name):
    assert says_what_is_missing(client.post(reverse(name), {}))


def test_changing_the_password(sign_in, student):
    assert says_what_is_missing(sign_in(student).post(reverse("change-password"), {}))
