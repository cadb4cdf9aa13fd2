"""Every address, method and role, against the table of what is expected."""

from uuid import UUID

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from tests.web.access_table import COUNTED, ROLES, SIGN_IN, TABLE, WORDS
from tests.web.access_world import World, build_world
from tests.web.walker import named_patterns
from workups.models import Reading

pytestmark = [pytest.mark.django_db, pytest.mark.timeout(400)]

PATTERNS = {pattern.name: pattern for pattern in named_patterns()}
OTHER_METHODS = ("put", "patch", "delete", "options")
# Needs no sign-in, and sends whoever has not begun one there by itself.
SECOND_STEP = "confirm-sign-in"


@pytest.fixture
def world(bench_work, classmates_work, other_section, instructor, ta, stockroom):
    return build_world(bench_work, classmates_work, other_section, instructor, ta, stockroom)


COMPLAINS = "complains"


class TakeBack(Exception):
    """Ends a transaction and takes back what a request did."""


def client_of(world: World, role: str) -> Client:
    client = Client(raise_request_exception=False)
    person = world.people[role]
    if person is not None:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return client


def url_of(world: World, name: str) -> str:
    converters = PATTERNS[name].pattern.converters
    return reverse(name, kwargs={key: world.arguments[key] for key in converters})


def answer_to(client: Client, method: str, url: str) -> int | str:
    """The status, SIGN_IN or COMPLAINS; what the request wrote is taken back."""
    cookies = client.cookies.copy()
    try:
        with transaction.atomic():
            response = getattr(client, method)(url)
            raise TakeBack
    except TakeBack:
        client.cookies = cookies
    if response.status_code == 302 and response.url.startswith(reverse("sign-in")):
        return SIGN_IN
    complains = not response.streaming and b'class="form-errors"' in response.content
    return COMPLAINS if method == "get" and complains else response.status_code


def test_the_table_has_every_address_and_no_other():
    assert set(PATTERNS) == set(TABLE)
    assert all(set(line.get) == set(line.post) == set(ROLES) for line in TABLE.values())


@pytest.mark.parametrize("method", ["get", "post"])
def test_every_role_gets_what_the_table_says(world, method):
    """And no page complains before anything was sent."""
    clients = {role: client_of(world, role) for role in ROLES}
    found = {
        (name, role): answer_to(clients[role], method, url_of(world, name))
        for name in TABLE
        for role in ROLES
    }
    expected = {
        (name, role): getattr(line, method)[role]
        for name, line in TABLE.items()
        for role in ROLES
    }
    wrong = {at: (found[at], expected[at]) for at in found if found[at] != expected[at]}
    assert wrong == {}, "found, expected"


def needs_sign_in(name: str) -> bool:
    return getattr(PATTERNS[name].callback, "login_required", True)


def test_other_methods_are_refused_everywhere(world):
    for role in ("anonymous", "student", "instructor"):
        client = client_of(world, role)
        for name in TABLE:
            for method in OTHER_METHODS:
                expected = SIGN_IN if role == "anonymous" and needs_sign_in(name) else 405
                assert answer_to(client, method, url_of(world, name)) == expected, name


def test_a_reading_of_another_record_is_not_there(world, sign_in, bench_work, classmates_work):
    """A reading's number works below its own record only; here the partner left the record."""
    classmates_work.bench_record = None
    classmates_work.save()
    arguments = [classmates_work.public_id, "correct", Reading.objects.get().pk]
    url = reverse("record-entry", args=arguments)
    assert sign_in(classmates_work.student).get(url).status_code == 404


def test_addresses_name_objects_by_what_cannot_be_guessed(world):
    """Objects by random ids (UUID version 4); a number only below such an id."""
    for name, pattern in PATTERNS.items():
        keys = list(pattern.pattern.converters)
        ids = [key for key in keys if key not in COUNTED | WORDS]
        for key in ids:
            value = world.arguments[key]
            assert isinstance(value, UUID), (name, key)
            # The tests' revision has a fixed id, so that its model plan is computed once.
            assert value.version == 4 or key == "revision_id", (name, key)
        assert not COUNTED & set(keys) or keys[0] in ids, name


def test_no_address_has_a_name_in_it(world):
    people = [person for person in world.people.values() if person is not None]
    first_names = {person.display_name.split()[0].lower() for person in people}
    assert len(first_names) == len(ROLES) - 1
    for name in PATTERNS:
        url = url_of(world, name).lower()
        assert not [word for word in first_names if word in url], url
