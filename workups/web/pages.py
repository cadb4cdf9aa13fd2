from collections.abc import Callable

from django.http import HttpResponseBase
from django.urls import URLPattern, path


def page(route: str, view: Callable[..., HttpResponseBase]) -> URLPattern:
    """A page at an address. It has its view's name, with hyphens."""
    return path(route, view, name=view.__name__.replace("_", "-"))
