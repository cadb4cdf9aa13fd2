"""Hostile requests to every form and address: no 500, no hang, nothing half-written.

The forms are read from the pages of every role. Each request runs in a transaction that is taken
back, so that every one meets the same world. Seeded: the same requests in every run.
"""

import time

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.urls.resolvers import URLPattern
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.forms import HOSTILE, Form, FormReader, filled_in, forms_of, random_text
from tests.long import count
from tests.web.access_table import ROLES
from tests.web.access_world import World, build_world
from tests.web.walker import HTMX, is_html, name_of, named_patterns, walk_pages
from workups.lookup import look_up

# Requests to each form as each role sees it, and to each address: about 200 or over 50 000.
PER_FORM = count(1, 550)
PER_ADDRESS = count(1, 50)
CPU_SECONDS = 2.0
BIG_NUMBERS = (0, 1, 2**31, 2**63, 10**30)
ATTACKERS = ("anonymous", "student", "ta", "instructor", "stockroom")
QUERY_WORDS = ("next", "verb", "after", "section", "state", "words", "role", "page")
FUZZ = {
    "deadline": None,
    "database": None,
    "derandomize": True,
    "suppress_health_check": list(HealthCheck),
}

pytestmark = [
    pytest.mark.django_db,
    pytest.mark.usefixtures("few_draws"),
    pytest.mark.timeout(count(600, 10_000)),
]


class TakeBack(Exception):
    """Ends a transaction and takes back what a request did."""


@pytest.fixture(scope="module", autouse=True)
def _read_library():
    """A server process reads the library of substances once, at its first look-up."""
    look_up("no substance of this name")


@pytest.fixture
def world(bench_work, classmates_work, other_section, instructor, ta, stockroom):
    return build_world(bench_work, classmates_work, other_section, instructor, ta, stockroom)


def client_of(world: World, role: str) -> Client:
    client = Client(raise_request_exception=False)
    person = world.people[role]
    if person is not None:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def rows() -> dict[str, int]:
    return {model.__name__: model.objects.count() for model in apps.get_models()}


def send(client: Client, method: str, url: str, data: object, headers: dict[str, str]) -> None:
    """Ask, and hold the answer to what every answer must keep."""
    before, cookies = rows(), client.cookies.copy()
    started = time.process_time()
    try:
        with transaction.atomic():
            answer = getattr(client, method)(url, data, headers=headers)
            seconds, after = time.process_time() - started, rows()
            raise TakeBack
    except TakeBack:
        client.cookies = cookies
    assert answer.status_code < 500, f"{method} {url} {data!r}: {answer.status_code}"
    assert seconds < CPU_SECONDS, f"{method} {url} {data!r}: {seconds:.1f} s"
    if answer.status_code >= 400:
        assert after == before, f"{method} {url} {data!r}: refused, and yet stored"


def test_forms_filled_in_by_an_enemy(world):
    clients = {role: client_of(world, role) for role in ATTACKERS}
    arguments = {key: [value] for key, value in world.arguments.items()}
    found = {
        (role, name_of(form.url), *sorted(form.fields)): form
        for role, client in clients.items()
        for url, page in walk_pages(client, arguments)
        if is_html(page)
        for form in forms_of(url, page.content.decode())
    }
    assert len(found) > 80
    for (role, *_), form in sorted(found.items()):
        attack_form(clients[role], form)


def attack_form(client: Client, form: Form) -> None:
    method = "post" if form.method == "post" else "get"

    @settings(max_examples=PER_FORM, **FUZZ)
    @given(fields=filled_in(form), headers=st.sampled_from([{}, HTMX]))
    def attack(fields, headers):
        send(client, method, form.url, fields, headers)

    attack()


def test_addresses_made_up_by_an_enemy(world):
    clients = {role: client_of(world, role) for role in ROLES}
    for pattern in sorted(named_patterns(), key=lambda pattern: pattern.name):
        attack_address(clients, pattern, world.arguments)


def attack_address(clients: dict[str, Client], pattern: URLPattern, known: dict) -> None:
    arguments = {
        key: argument(known[key], type(converter).__name__)
        for key, converter in pattern.pattern.converters.items()
    }

    @settings(max_examples=PER_ADDRESS, **FUZZ)
    @given(
        kwargs=st.fixed_dictionaries(arguments),
        query=st.dictionaries(
            st.sampled_from(QUERY_WORDS), st.sampled_from(HOSTILE) | random_text(), max_size=3
        ),
        role=st.sampled_from(sorted(ROLES)),
    )
    def attack(kwargs, query, role):
        url = reverse(pattern.name, kwargs=kwargs)
        if not url.endswith(".pdf"):
            send(clients[role], "get", url, query, {})

    attack()


def argument(known: object, converter: str) -> st.SearchStrategy[object]:
    """A part of an address: the right one, or one that its pattern lets through."""
    if converter == "IntConverter":
        return st.just(known) | st.sampled_from(BIG_NUMBERS) | st.integers(0, 10**40)
    if converter == "UUIDConverter":
        return st.just(known) | st.just(known) | st.uuids()
    return st.just(known) | st.from_regex(r"[-a-zA-Z0-9_]{1,80}", fullmatch=True)


def test_a_number_that_no_database_holds_is_not_there(world):
    """Every number in an address, larger than any row's."""
    client = client_of(world, "student")
    staff = client_of(world, "ta")
    for pattern in named_patterns():
        kinds = {key: type(c).__name__ for key, c in pattern.pattern.converters.items()}
        numbers = [key for key, kind in kinds.items() if kind == "IntConverter"]
        for key in numbers:
            for number in BIG_NUMBERS:
                arguments = {name: world.arguments[name] for name in kinds} | {key: number}
                url = reverse(pattern.name, kwargs=arguments)
                for asking in (client, staff):
                    send(asking, "get", url, {}, {})
                    send(asking, "post", url, {}, {})


def test_the_reader_finds_the_controls_of_a_form():
    reader = FormReader("/here/")
    reader.feed(
        '<form method="post"><input name="a" value="1"><select name="b"><option value="x">'
        '<option value="y"></select><input type="file" name="c"></form><input name="outside">'
    )
    (form,) = reader.forms
    assert (form.url, form.method) == ("/here/", "post")
    assert {name: f.offered for name, f in form.fields.items()} == {
        "a": ["1"],
        "b": ["x", "y"],
        "c": [""],
    }
    assert form.fields["c"].is_file
