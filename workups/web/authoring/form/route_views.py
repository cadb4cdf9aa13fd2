"""The model plan and its alternatives in the author form, a step at a time."""

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods
from django_htmx.http import HttpResponseClientRedirect, reswap, retarget, trigger_client_event

from workups.documents import DocumentError
from workups.grading.material_facts import material_name
from workups.grading.numbers import joined
from workups.models import ExerciseDraft
from workups.web.access import CourseAccess, current_person
from workups.web.authoring.access import get_draft_for
from workups.web.authoring.form.context import frame_context
from workups.web.authoring.form.live import live_model
from workups.web.authoring.form.panel import panel_context
from workups.web.authoring.form.parts import BY_SLUG, PLAN
from workups.web.authoring.form.route_saving import (
    DOINGS,
    NoSuchStep,
    RouteChange,
    RouteSaved,
    save_route,
)
from workups.web.authoring.form.routes import (
    MODEL,
    read_route,
    route_count,
    step_form,
    tidy_errors,
)
from workups.web.authoring.form.saving import StalePart, data_of
from workups.web.authoring.form.views import CHANGED, CHECK, FORM_METHODS, UNREADABLE
from workups.web.planning.builder import verb_menu
from workups.web.requests import HtmxRequest
from workups.web.step_forms import StepForm


class PlaceForm(forms.Form):
    """Which route is looked at, and which of its steps is open."""

    route = forms.IntegerField(min_value=0, max_value=99, required=False)
    step = forms.CharField(max_length=60, required=False)

    @property
    def place(self) -> tuple[int, str]:
        cleaned = self.cleaned_data if self.is_valid() else {}
        return cleaned.get("route") or MODEL, cleaned.get("step", "")


@require_http_methods(FORM_METHODS)
def edit_route(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    try:
        if request.method == "POST":
            return answer_route(request, access, draft)
        route, step_id = PlaceForm(request.GET).place
        return render_route(request, access, draft, route, step_id)
    except DocumentError:
        messages.error(request, UNREADABLE)
        return moved(request, reverse("edit-draft", args=[draft_id]))


def moved(request: HtmxRequest, url: str) -> HttpResponse:
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


def address(draft: ExerciseDraft, route: int, step_id: str = "") -> str:
    query = urlencode({k: v for k, v in (("route", route), ("step", step_id)) if v})
    url = reverse("edit-route", args=[draft.public_id])
    return f"{url}?{query}#step-{step_id}" if step_id else f"{url}?{query}" if query else url


def answer_route(request: HtmxRequest, access: CourseAccess, draft: ExerciseDraft) -> HttpResponse:
    route, _ = PlaceForm(request.POST).place
    do, _, about = request.POST.get("do", "").partition(":")
    if do not in DOINGS:
        messages.error(request, "That could not be read. The plan is as it was.")
        return moved(request, address(draft, MODEL))
    try:
        change = RouteChange(do, about, route, request.POST)
        saved = save_route(actor=access.person, draft=draft, change=change)
    except NoSuchStep:
        messages.warning(request, "That step is no longer in the plan.")
        return moved(request, address(draft, MODEL))
    except StalePart as stale:
        return render_stale(request, access, stale.current, route, about)
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return moved(request, address(draft, route))
    return answer_saved(request, access, saved, do)


def answer_saved(
    request: HtmxRequest, access: CourseAccess, saved: RouteSaved, do: str
) -> HttpResponse:
    is_closing = do == "edit" and "close" in request.POST
    open_id = "" if is_closing or do in ("up", "down", "remove") else saved.step_id
    note_bench(request, saved)
    if not request.htmx:
        url = address(saved.draft, saved.route, open_id)
        return redirect(f"{url}#step-{saved.step_id}" if is_closing and saved.step_id else url)
    if do == "edit" and not is_closing:
        answer = render_step_saved(request, access, saved)
    else:
        answer = render_route(request, access, saved.draft, saved.route, open_id)
    return trigger_client_event(answer, CHANGED) if saved.is_changed else answer


def note_bench(request: HtmxRequest, saved: RouteSaved) -> None:
    if saved.on_bench and not request.htmx:
        exercise = read_route(data_of(saved.draft), saved.route).exercise
        names = [material_name(key, exercise) for key in saved.on_bench]
        messages.info(request, f"{joined(names).capitalize()} was put on the bench.")


def route_context(
    access: CourseAccess,
    draft: ExerciseDraft,
    number: int,
    step_id: str,
    sent: Any = None,
) -> dict[str, Any]:
    data = data_of(draft)
    count = route_count(data)
    route = read_route(data, number if number < count else MODEL)
    opened = route.find(step_id)
    form: StepForm | None = None
    if opened is not None:
        form = step_form(route, opened.line, sent)
        tidy_errors(form, opened.line)
    return {
        **frame_context(access, draft, BY_SLUG[PLAN]),
        "route": route,
        "routes": [title_of(n) for n in range(count)],
        "open_id": opened.line.id if opened else "",
        "opened": opened,
        "form": form,
        "verb_groups": verb_menu(),
        "to_do": sum(not step.line.is_complete for step in route.steps),
        "to_mend": sum(len(step.line.problems) for step in route.steps),
    }


def title_of(number: int) -> tuple[int, str]:
    return number, "Model plan" if number == MODEL else f"Alternative {number}"


def render_route(
    request: HtmxRequest,
    access: CourseAccess,
    draft: ExerciseDraft,
    route: int,
    step_id: str = "",
) -> HttpResponse:
    context = route_context(access, draft, route, step_id)
    if context["form"] is not None:
        context["form"].focus_first()
    if CHECK in request.GET:
        context |= panel_context(live_model(draft.document))
    template = "_route.html" if request.htmx else "edit_route.html"
    return render(request, f"workups/authoring/form/{template}", context)


def render_step_saved(
    request: HtmxRequest, access: CourseAccess, saved: RouteSaved
) -> HttpResponse:
    """Everything but the fields themselves, which somebody is typing in."""
    context = route_context(access, saved.draft, saved.route, saved.step_id, request.POST)
    return render(request, "workups/authoring/form/_route_saved.html", context)


def render_stale(
    request: HtmxRequest, access: CourseAccess, current: ExerciseDraft, route: int, step_id: str
) -> HttpResponse:
    """What was typed stays in the form of the step; what the other saved is its sentence above."""
    context = route_context(access, current, route, step_id, request.POST) | {"stale": current}
    template = "_route.html" if request.htmx else "edit_route.html"
    answer = render(request, f"workups/authoring/form/{template}", context)
    return reswap(retarget(answer, "#part"), "outerHTML") if request.htmx else answer
