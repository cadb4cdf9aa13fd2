"""Light, dark, or as the device says: kept in a cookie, so that it works signed out too."""

from django import forms
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

COOKIE_NAME = f"{settings.COOKIE_PREFIX}colour_scheme"
COOKIE_SECONDS = 365 * 24 * 60 * 60
SCHEMES = (("device", "As the device"), ("light", "Light"), ("dark", "Dark"))


class ColourSchemeForm(forms.Form):
    scheme = forms.ChoiceField(choices=SCHEMES)
    next = forms.CharField(required=False, max_length=2000)


def read_colour_scheme(request: HttpRequest) -> str:
    scheme = request.COOKIES.get(COOKIE_NAME, "")
    return scheme if scheme in dict(SCHEMES) else "device"


@login_not_required
@require_POST
def set_colour_scheme(request: HttpRequest) -> HttpResponse:
    form = ColourSchemeForm(request.POST)
    if not form.is_valid():
        return HttpResponse("Unknown colour scheme.", status=400, content_type="text/plain")
    response = redirect(safe_next(request, form.cleaned_data["next"]))
    response.set_cookie(
        COOKIE_NAME,
        form.cleaned_data["scheme"],
        max_age=COOKIE_SECONDS,
        samesite="Lax",
        httponly=True,
        secure=settings.SESSION_COOKIE_SECURE,
    )
    return response


def safe_next(request: HttpRequest, url: str, default: str = "/") -> str:
    """`url` where it is an address of this site that begins with a slash, else `default`."""
    if url.startswith("/") and url_has_allowed_host_and_scheme(
        url, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return url
    return default


def colour_scheme(request: HttpRequest) -> dict[str, str]:
    return {"colour_scheme": read_colour_scheme(request)}
