from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def refuse_stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The answer to a form whose CSRF token does not match, usually after signing out."""
    return render(request, "403_csrf.html", {"reason": reason}, status=403)
