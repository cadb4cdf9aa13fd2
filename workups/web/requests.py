from __future__ import annotations

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, QueryDict
from django.utils.datastructures import MultiValueDict
from django_htmx.middleware import HtmxDetails


class HtmxRequest(HttpRequest):
    """A request as HtmxMiddleware hands it on: for the annotations of views with live parts."""

    htmx: HtmxDetails


def sent_data(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, empty or not; None where the page is only looked at."""
    return request.POST if request.method == "POST" else None


def sent_files(request: HttpRequest) -> MultiValueDict[str, UploadedFile[bytes]] | None:
    """The files a form was sent with, some or none; None where the page is only looked at."""
    return request.FILES if request.method == "POST" else None
