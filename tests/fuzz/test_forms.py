"""Hostile requests to every form and address: no 500, no hang, nothing half-written.

The forms are read from the pages of every role. Each request runs in a transaction that is taken
back, so that every one meets the same world; a refused one must have left every row as it was.
Seeded: the same requests in every run.
"""

import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

import pytest
from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper
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

# Requests to each form as each role sees it, and to each address: about 300 or over 50 000.
PER_FORM = count(1, 400)
PER_ADDRESS = count(1, 100)
CPU_SECONDS = 2.0
BIG_NUMBERS = (0, 1, 2**31, 2**63, 10**30)
# How many forms each of them comes to, at least.
FORMS = {"anonymous": 5, "student": 50, "ta": 20, "instructor": 55, "stockroom": 8}
ATTACKERS = tuple(FORMS)
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


def stored() -> dict[str, int]:
    """A number for each table that follows from all its rows, whatever their order."""
    with connection.cursor() as cursor:
        return {name: contents_of(cursor, name) for name in connection.introspection.table_names()}


def contents_of(cursor: CursorWrapper, table: str) -> int:
    cursor.execute("SELECT * FROM " + connection.ops.quote_name(table))  # noqa: S608 (no input)
    return hash(frozenset(Counter(map(repr, cursor.fetchall())).items()))


@dataclass
class Enemy:
    """One who is signed in and sends requests, each to the same world."""

    client: Client
    untouched: dict[str, int]
    sent: int = 0

    def send(self, method: str, url: str, data: object, headers: dict[str, str]) -> None:
        """Ask, and hold the answer to what every answer must keep."""
        cookies, what = self.client.cookies.copy(), f"{method} {url} {data!r}"
        self.sent += 1
        started = time.process_time()
        try:
            with transaction.atomic():
                answer = getattr(self.client, method)(url, data, headers=headers)
                seconds = time.process_time() - started
                after = stored() if answer.status_code >= 400 else self.untouched
                raise TakeBack
        except TakeBack:
            self.client.cookies = cookies
        assert answer.status_code < 500, f"{what}: {answer.status_code}"
        assert seconds < CPU_SECONDS, f"{what}: {seconds:.1f} s"
        assert after == self.untouched, f"{what}: refused, and yet stored"


def enemies(world: World, roles: Iterable[str]) -> dict[str, Enemy]:
    """All signed in before the world is taken down as it is."""
    clients = {role: client_of(world, role) for role in roles}
    untouched = stored()
    return {role: Enemy(client, untouched) for role, client in clients.items()}


@pytest.mark.parametrize("role", ATTACKERS)
def test_forms_filled_in_by_an_enemy(world, role):
    found = forms_seen_by(client_of(world, role), world)
    assert len(found) >= FORMS[role]
    (enemy,) = enemies(world, [role]).values()
    for _, form in sorted(found.items()):
        attack_form(enemy, form)
    assert enemy.sent >= 0.9 * PER_FORM * len(found), "nothing left to send"


def forms_seen_by(client: Client, world: World) -> dict[tuple[str, ...], Form]:
    """The forms of all pages that a person comes to, each once: by its address and its fields."""
    arguments = {key: [value] for key, value in world.arguments.items()}
    return {
        (name_of(form.url), *sorted(form.fields)): form
        for url, page in walk_pages(client, arguments, leave=is_pdf)
        if is_html(page)
        for form in forms_of(url, page.content.decode())
    }


def is_pdf(url: str) -> bool:
    """Sheets have no forms and nothing to fill in; each takes longer than a hundred pages."""
    return url.endswith(".pdf")


def attack_form(enemy: Enemy, form: Form) -> None:
    method = "post" if form.method == "post" else "get"

    @settings(max_examples=PER_FORM, **FUZZ)
    @given(fields=filled_in(form), headers=st.sampled_from([{}, HTMX]))
    def attack(fields, headers):
        enemy.send(method, form.url, fields, headers)

    attack()


def test_addresses_made_up_by_an_enemy(world):
    sending = enemies(world, ROLES)
    for pattern in sorted(named_patterns(), key=lambda pattern: pattern.name):
        attack_address(sending, pattern, world.arguments)
    assert sum(enemy.sent for enemy in sending.values()) >= 50 * PER_ADDRESS


def attack_address(sending: dict[str, Enemy], pattern: URLPattern, known: dict) -> None:
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
        if not is_pdf(url):
            sending[role].send("get", url, query, {})

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
    sending = enemies(world, ["student", "ta"])
    for pattern in named_patterns():
        kinds = {key: type(c).__name__ for key, c in pattern.pattern.converters.items()}
        numbers = [key for key, kind in kinds.items() if kind == "IntConverter"]
        for key in numbers:
            for number in BIG_NUMBERS:
                arguments = {name: world.arguments[name] for name in kinds} | {key: number}
                url = reverse(pattern.name, kwargs=arguments)
                for enemy in sending.values():
                    enemy.send("get", url, {}, {})
                    enemy.send("post", url, {}, {})


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
