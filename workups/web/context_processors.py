from django.http import HttpRequest

from workups.web.preferences import read_colour_scheme


def colour_scheme(request: HttpRequest) -> dict[str, str]:
    return {"colour_scheme": read_colour_scheme(request)}
