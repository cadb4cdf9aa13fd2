from collections.abc import Mapping

from django.http import HttpRequest

from workups.models import normalise_sign_in


def name_to_throttle(request: HttpRequest, credentials: Mapping[str, str] | None) -> str:
    """The name that django-axes counts failures under: one spelling, however it was typed."""
    given = credentials or request.POST
    return normalise_sign_in(given.get("username", ""))
