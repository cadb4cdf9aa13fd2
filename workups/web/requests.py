from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails


class HtmxRequest(HttpRequest):
    """A request as HtmxMiddleware hands it on: for the annotations of views with live parts."""

    htmx: HtmxDetails
