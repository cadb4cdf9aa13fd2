"""The address a request came from, which throttles and the log go by."""

from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str | None:
    """Behind the web server in front, the last entry of X-Forwarded-For, which that server wrote;
    earlier entries are what the client says. Else the connection's own address."""
    given = request.META.get("REMOTE_ADDR", "")
    if settings.BEHIND_HTTPS_PROXY:
        given = request.META.get("HTTP_X_FORWARDED_FOR", given).rsplit(",", 1)[-1].strip()
    try:
        return str(ip_address(given))
    except ValueError:
        return None
