import sys
from collections.abc import Callable

from django.db import DatabaseError, InterfaceError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token
from django.views.defaults import server_error

from workups.services.refusals import Refused

RETRY_SECONDS = 60
GetResponse = Callable[[HttpRequest], HttpResponse]


def refuse_stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose CSRF token does not match, usually after signing out."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)


@requires_csrf_token
def answer_failure(request: HttpRequest) -> HttpResponse:
    """The answer to what no view caught: 503 where the database failed, else 500.

    A full disk, a read-only or unreachable database: nothing of the request was stored, because
    its transaction was not committed. The page asks the database nothing.
    """
    if not isinstance(sys.exc_info()[1], DatabaseError | InterfaceError):
        return server_error(request)
    page = render(request, "503.html", status=503)
    page.headers["Retry-After"] = str(RETRY_SECONDS)
    return page


def words_of(refused: Refused) -> str:
    """The first sentence of what the refusal's docstring says."""
    said = " ".join((type(refused).__doc__ or "").split())
    return said.split(". ")[0].rstrip(".") + "."


class RefusedWriteMiddleware:
    """The answer to a write that a service refused and no view expected: 409 and why.

    For what happens between a page's own look and its write, and for forms put together by hand.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        return render(request, "409.html", {"why": words_of(exception)}, status=409)
