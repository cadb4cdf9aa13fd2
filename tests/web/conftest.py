import pytest
from django.test import Client
from django.urls import reverse

from workups.models import Person


@pytest.fixture
def sign_in(client: Client):
    """Sign a person in on the test's client: `sign_in(person).get(url)`."""

    def as_person(person: Person) -> Client:
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
        return client

    return as_person


@pytest.fixture
def leads_to_sign_in(client: Client):
    """Whether a signed-out visitor is sent to sign-in and from there back."""

    def check(url: str, method: str = "get") -> bool:
        response = getattr(client, method)(url)
        return response.status_code == 302 and response.url == f"{reverse('sign-in')}?next={url}"

    return check
