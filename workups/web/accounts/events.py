"""Who signed in, out, or failed to, in the server's log: `manage.py` and pages alike.

Names that were typed are quoted, so that no line of the log can be forged.
"""

import logging
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.dispatch import receiver
from django.http import HttpRequest

from workups.models import Person
from workups.web.requests import client_address

logger = logging.getLogger("workups.sign_in")


def address_of(request: HttpRequest | None) -> str:
    return (client_address(request) if request is not None else None) or "unknown address"


@receiver(user_logged_in)
def log_sign_in(request: HttpRequest | None, user: Person, **_more: Any) -> None:
    logger.info("%s signed in from %s", user.public_id, address_of(request))


@receiver(user_logged_out)
def log_sign_out(request: HttpRequest | None, user: Person | None, **_more: Any) -> None:
    if user is not None:
        logger.info("%s signed out from %s", user.public_id, address_of(request))


@receiver(user_login_failed)
def log_failure(
    credentials: dict[str, Any], request: HttpRequest | None = None, **_more: Any
) -> None:
    name = str(credentials.get("username", ""))[:150]
    logger.warning("sign-in as %r failed from %s", name, address_of(request))


def log_wrong_code(request: HttpRequest, person: Person) -> None:
    logger.warning("%s gave a wrong code from %s", person.public_id, address_of(request))
