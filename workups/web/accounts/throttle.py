"""What failures at sign-in are counted under, and which devices count for themselves.

Names are easy to guess and a whole lab has one address, so that anybody could lock a name out there
by guessing its password. A browser in which somebody has signed in keeps a sealed cookie that says
so: for their name its failures are counted by themselves, and nobody else's are in the way.
"""

import secrets
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.contrib.auth.signals import user_logged_in
from django.core import signing
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from workups.models import Person, normalise_sign_in

SALT = "labcourse.known-device"
KEPT_S = 180 * 24 * 60 * 60
# A station that many share forgets whoever signed in longest ago.
MOST_NAMES = 60


def name_to_throttle(request: HttpRequest, credentials: Mapping[str, str] | None) -> str:
    """The name that django-axes counts failures under: one spelling, however it was typed."""
    given = credentials or request.POST
    name = normalise_sign_in(given.get("username", ""))
    device, known = _read(request)
    return f"{name} {device}" if _mark(name) in known else name


def is_known_here(request: HttpRequest, name: str) -> bool:
    """Whether somebody of this name has signed in with this browser."""
    return _mark(normalise_sign_in(name)) in _read(request)[1]


@receiver(user_logged_in)
def note_known_device(request: HttpRequest, user: Person, **_more: Any) -> None:
    device, known = _read(request)
    mark = _mark(user.sign_in)
    others = [other for other in known if other != mark]
    request.known_device = [device, *others[1 - MOST_NAMES :], mark]  # type: ignore[attr-defined]


def keep_known_device(request: HttpRequest, response: HttpResponse) -> None:
    """Send the cookie with the answer to a sign-in."""
    value = getattr(request, "known_device", None)
    if value is not None:
        response.set_cookie(
            settings.KNOWN_DEVICE_COOKIE_NAME,
            signing.dumps(value, salt=SALT),
            max_age=KEPT_S,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )


def _read(request: HttpRequest) -> tuple[str, list[str]]:
    sealed = request.COOKIES.get(settings.KNOWN_DEVICE_COOKIE_NAME, "")
    try:
        device, *known = signing.loads(sealed, salt=SALT, max_age=KEPT_S)
    except signing.BadSignature:
        return secrets.token_hex(8), []
    return device, known


def _mark(name: str) -> str:
    """Stands for a name in the cookie without saying it."""
    return salted_hmac(SALT, name).hexdigest()[:20]
