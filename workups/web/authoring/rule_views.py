from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workups.selectors.method import method_chapters
from workups.selectors.rules import find_rule, rule_groups
from workups.web.requests import HtmxRequest


@require_safe
def list_rules(request: HtmxRequest) -> HttpResponse:
    return render(request, "workups/authoring/list_rules.html", {"groups": rule_groups()})


@require_safe
def show_rule(request: HtmxRequest, code: str) -> HttpResponse:
    found = find_rule(code)
    if found is None:
        raise Http404
    return render(request, "workups/authoring/show_rule.html", {"rule": found})


@require_safe
def show_method(request: HtmxRequest) -> HttpResponse:
    context = {"chapters": method_chapters()}
    return render(request, "workups/authoring/show_method.html", context)
