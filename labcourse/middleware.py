from collections.abc import Callable
from urllib.parse import urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import urlencode
from django_htmx.http import HttpResponseClientRedirect

from workups.models import Person
from workups.web.accounts.devices import note_use
from workups.web.accounts.second_step import lacks_second_step
from workups.web.accounts.throttle import keep_known_device
from workups.web.requests import HtmxRequest

GetResponse = Callable[[HttpRequest], HttpResponse]

PERMISSIONS_POLICY = ", ".join(
    f"{feature}=()"
    for feature in (
        "accelerometer",
        "camera",
        "display-capture",
        "geolocation",
        "gyroscope",
        "magnetometer",
        "microphone",
        "midi",
        "payment",
        "usb",
    )
)


class LimitedBodyMiddleware:
    """Refuse a request that announces more than any form of ours can send.

    Django limits fields but not files, which it would write to the disk, and it reads a form
    before it knows who sends it. A body of unannounced length is not read at all.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        announced = request.META.get("CONTENT_LENGTH") or "0"
        if announced.isdecimal() and int(announced) > settings.MOST_BYTES_OF_A_REQUEST:
            return render(request, "413.html", status=413)
        return self.get_response(request)


class SecurityHeadersMiddleware:
    """The headers that neither Django nor django-csp sets."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response


class SignedInPagesMiddleware:
    """Keep a signed-in person's pages out of caches, and send an expired live part to sign-in.

    Also notes, once an hour, that the person's device is in use, and at a sign-in that it is known.

    Stations by the balances are shared: after signing out, the back button must show nothing.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HtmxRequest) -> HttpResponse:
        if request.user.is_authenticated:
            note_use(request)
        response = self.get_response(request)
        keep_known_device(request, response)
        if request.user.is_authenticated:
            response.headers.setdefault("Cache-Control", "private, no-store")
        elif request.htmx and is_sign_in_redirect(response):
            return HttpResponseClientRedirect(sign_in_url_for(request))
        return response


class DemandedSecondStepMiddleware:
    """Where it is demanded, lead whoever teaches to set up the second step before anything else.

    What needs no sign-in stays open: signing out, the colours, a shared station.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HtmxRequest, view: Callable[..., HttpResponse], *_arguments: object
    ) -> HttpResponse | None:
        if not settings.SECOND_STEP_DEMANDED or not getattr(view, "login_required", True):
            return None
        way = resolve_url("set-up-second-step")
        person = request.user
        if request.path == way or not isinstance(person, Person) or not lacks_second_step(person):
            return None
        return HttpResponseClientRedirect(way) if request.htmx else redirect(way)


def is_sign_in_redirect(response: HttpResponse) -> bool:
    location = response.headers.get("Location", "")
    return response.status_code == 302 and urlsplit(location).path == resolve_url(
        settings.LOGIN_URL
    )


def sign_in_url_for(request: HtmxRequest) -> str:
    """Sign-in, and back to the page that the live part belongs to."""
    page = request.htmx.current_url_abs_path or "/"
    return f"{resolve_url(settings.LOGIN_URL)}?{urlencode({'next': page})}"
