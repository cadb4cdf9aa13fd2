"""The address that throttles go by: what the server in front saw, not what the client says."""

import pytest
from django.conf import settings as django_settings
from django.urls import reverse

from workups.web.requests import client_address

GOOD = {"username": "stina.student", "password": "correct horse"}


@pytest.mark.parametrize(
    ("behind", "forwarded", "expected"),
    [
        (False, None, "192.0.2.1"),
        (False, "198.51.100.9", "192.0.2.1"),
        (True, "198.51.100.9", "198.51.100.9"),
        (True, "203.0.113.5, 198.51.100.9", "198.51.100.9"),
        (True, None, "192.0.2.1"),
        (True, "2001:db8::1", "2001:db8::1"),
        (True, "nonsense\r\n", None),
    ],
)
def test_the_last_entry_counts_and_only_behind_a_server(
    rf, settings, behind, forwarded, expected
):
    settings.BEHIND_HTTPS_PROXY = behind
    headers = {} if forwarded is None else {"HTTP_X_FORWARDED_FOR": forwarded}
    assert client_address(rf.get("/", REMOTE_ADDR="192.0.2.1", **headers)) == expected


def test_wrong_passwords_from_elsewhere_lock_nobody_out(client, settings, student):
    """All requests come from the server in front; the attacker forges an earlier entry."""
    settings.BEHIND_HTTPS_PROXY = True
    attacker = {"HTTP_X_FORWARDED_FOR": "192.0.2.7, 198.51.100.9"}
    url = reverse("sign-in")
    for _ in range(django_settings.AXES_FAILURE_LIMIT):
        refused = client.post(url, GOOD | {"password": "wrong"}, **attacker)
    assert refused.status_code == 429
    assert client.post(url, GOOD, HTTP_X_FORWARDED_FOR="192.0.2.7").status_code == 302
