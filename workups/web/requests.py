from __future__ import annotations

from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils.datastructures import MultiValueDict
from django_htmx.middleware import HtmxDetails

FORM_METHODS = ["GET", "HEAD", "POST"]  # of a page with a form


class HtmxRequest(HttpRequest):
    """A request as HtmxMiddleware hands it on: for the annotations of views with live parts."""

    htmx: HtmxDetails


def sent_data(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, empty or not; None where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def sent_files(request: HttpRequest) -> MultiValueDict[str, UploadedFile[bytes]] | None:
    """The files a form was sent with, some or none; None where the page is only looked at."""
    return request.FILES if request.method == "POST" else None


def afterwards(response: HttpResponse, act: Callable[[], object]) -> HttpResponse:
    """The answer, with what is done once it is sent, so that its time tells nothing of that.

    The server closes an answer when all of it is on its way.
    """
    close = response.close

    def act_and_close() -> None:
        try:
            act()
        finally:
            close()

    response.close = act_and_close  # type: ignore[method-assign]
    return response


# The address a request came from, which throttles and the log go by.


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
