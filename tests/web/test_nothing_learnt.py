"""Nobody learns from an answer what the page does not say: not by status, text, size or header,
nor by what was computed for it.

What is not there and what is not theirs to see are answered alike, byte for byte.
"""

import re
from urllib.parse import quote
from uuid import uuid4

import pytest
from django.contrib.auth import hashers
from django.core import mail
from django.test import Client
from django.test.client import ClientHandler
from django.urls import reverse

from tests.web.access_table import COUNTED, ROLES, TABLE, WORDS
from tests.web.access_world import build_world
from tests.web.test_access_table import PATTERNS, client_of
from workups.models import Work
from workups.services.station import set_station_pin

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("few_draws"),
    pytest.mark.timeout(400),
]

METHODS = ("get", "post")
FRESH = re.compile(
    rb'name="csrfmiddlewaretoken" value="[^"]*"|"X-CSRFToken": "[^"]*"|csrftoken=\w+|expires=[^;]*'
    rb"|Expires: [^\n]*"  # of a page that is never kept: the second it was made in
)
# The link that sets a password is a secret of its own: its token is tried, never right.
BAD = {"token": "d4x9p1-0123456789abcdef0123456789abcdef"}
NOT_THERE = {
    "step_id": "nowhere", "idea": "no-such-idea", "code": "no-such-rule", "part": "no-such-part",
    **BAD}


@pytest.fixture
def world(bench_work, classmates_work, other_section, instructor, ta, stockroom):
    return build_world(bench_work, classmates_work, other_section, instructor, ta, stockroom)


def arguments_of(name):
    return list(PATTERNS[name].pattern.converters)


def missing(key):
    """A value of the same kind that names nothing."""
    if key in COUNTED:
        return 999_999_999 if key.endswith("_id") else 53 if key == "week" else 999
    return NOT_THERE.get(key) or uuid4()


def said_by(client: Client, method: str, name: str, arguments: dict) -> tuple:
    """Status, headers and body; the address itself and what is fresh in every answer left out."""
    url = reverse(name, kwargs=arguments)
    response = getattr(client, method)(url)
    body = b"".join(response.streaming_content) if response.streaming else response.content
    headers = "\n".join(f"{n}: {v}" for n, v in sorted(response.headers.items())).encode()
    for asked in (url, quote(url, safe=""), quote(url)):
        body, headers = (said.replace(asked.encode(), b"address") for said in (body, headers))
    length = rb"Content-Length: \d+"
    return response.status_code, re.sub(length, b"", FRESH.sub(b"", headers)), FRESH.sub(b"", body)


def with_objects():
    """Addresses that name an object of somebody's."""
    return [n for n in TABLE if set(arguments_of(n)) - COUNTED - WORDS]


@pytest.mark.parametrize("role", ["anonymous", "outsider", "elsewhere"])
def test_a_stranger_does_not_learn_what_there_is(world, role):
    client = client_of(world, role)
    learnt = []
    for name in with_objects():
        there = {key: world.arguments[key] for key in arguments_of(name)}
        there |= {key: value for key, value in BAD.items() if key in there}
        nowhere = {key: missing(key) for key in there}
        learnt += [
            (name, method)
            for method in METHODS
            if said_by(client, method, name, there) != said_by(client, method, name, nowhere)
        ]
    assert not learnt, learnt


@pytest.mark.parametrize("role", [role for role in ROLES if role != "anonymous"])
def test_who_is_refused_does_not_learn_what_is_in_it(world, role):
    """Where somebody is refused (403), whatever stands behind the first object of the address may
    be there or not; where nothing is there for them (404), the object itself too."""
    client = client_of(world, role)
    learnt, compared = [], 0
    for name in with_objects():
        keys = arguments_of(name)
        there = {key: world.arguments[key] for key in keys}
        for method in METHODS:
            expected = getattr(TABLE[name], method)[role]
            if expected not in (403, 404):
                continue
            replaced = keys if is_stranger_to_it(name, method, role) else keys[1:]
            nowhere = there | {key: missing(key) for key in replaced}
            if nowhere != there:
                compared += 1
                if said_by(client, method, name, there) != said_by(client, method, name, nowhere):
                    learnt.append((name, method))
    assert not learnt, learnt
    assert compared > 3


def is_stranger_to_it(name: str, method: str, role: str) -> bool:
    """Whether the table has the object itself as not there for this role, and there for others."""
    outcomes = getattr(TABLE[name], method)
    return outcomes[role] == 404 and 404 not in (outcomes["student"], outcomes["instructor"])


@pytest.fixture
def hashes(monkeypatch, settings):
    """How often a password was hashed: what an answer costs that costs most."""
    counted = []
    encode = hashers.MD5PasswordHasher.encode

    def counting(self, *args, **kwargs):
        counted.append(args)
        return encode(self, *args, **kwargs)

    monkeypatch.setattr(hashers.MD5PasswordHasher, "encode", counting)
    return counted


def answer_to(client, hashes, name, data):
    """What is said and how often was hashed for it."""
    hashes.clear()
    response = client.post(reverse(name), data)
    body = response.content
    for typed in data.values():
        body = body.replace(typed.encode(), b"typed")
    return response.status_code, FRESH.sub(b"", body), len(hashes)


def invited(person):
    """Has not chosen a password yet."""
    person.set_unusable_password()


def inactive(person):
    person.is_active = False


def without_mail(person):
    person.email = ""


def as_usual(person):
    """Nothing special."""


@pytest.mark.parametrize("kind", [as_usual, invited, inactive])
def test_sign_in_does_not_tell_which_names_there_are(client, student, hashes, kind):
    kind(student)
    student.save()
    known = {"username": student.sign_in, "password": "wrong"}
    unknown = {"username": "nobody.atall", "password": "wrong"}
    assert answered_after_one_hash(client, hashes, "sign-in", known) == answered_after_one_hash(
        client, hashes, "sign-in", unknown
    )


def answered_after_one_hash(client, hashes, name, data):
    """The same; what is refused before it is looked at would be answered alike by any program."""
    said = answer_to(client, hashes, name, data)
    assert said[2] == 1
    return said


@pytest.mark.parametrize("pin", ["", "471100"])
def test_a_station_does_not_tell_which_codes_there_are(client, bench_work, hashes, pin):
    set_station_pin(actor=bench_work.student, work=bench_work, pin=pin)
    known = {"code": bench_work.bench_code, "pin": "000000", "idle": "2"}
    unknown = known | {"code": "99999"}
    assert Work.objects.filter(bench_code="99999").count() == 0
    assert answered_after_one_hash(
        client, hashes, "enter-station", known
    ) == answered_after_one_hash(client, hashes, "enter-station", unknown)


@pytest.mark.parametrize("kind", [as_usual, invited, inactive, without_mail])
def test_a_forgotten_password_does_not_tell_which_names_there_are(client, student, hashes, kind):
    kind(student)
    student.save()
    known, unknown = {"words": student.sign_in}, {"words": "nobody.atall"}
    assert answer_to(client, hashes, "forgot-password", known) == answer_to(
        client, hashes, "forgot-password", unknown
    )
    assert len(mail.outbox) == (kind in (as_usual, invited))


def test_the_mail_for_a_forgotten_password_goes_out_after_the_answer(client, student, monkeypatch):
    """A mail server takes its time, which nobody may read off the answer."""
    sent = []
    answer = ClientHandler.get_response

    def answering(handler, request):
        response = answer(handler, request)
        sent.append(len(mail.outbox))
        return response

    monkeypatch.setattr(ClientHandler, "get_response", answering)
    client.post(reverse("forgot-password"), {"words": student.sign_in})
    assert sent == [0]
    assert len(mail.outbox) == 1
