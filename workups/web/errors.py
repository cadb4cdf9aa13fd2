import sys

from django.db import DatabaseError, InterfaceError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import requires_csrf_token
from django.views.defaults import server_error

RETRY_SECONDS = 60


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
