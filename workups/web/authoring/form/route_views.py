"""The model plan and its alternatives in the author form, a step at a time."""

import copy
from functools import cached_property
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods
from django_htmx.http import reswap, retarget, trigger_client_event

from workups.chemistry.fields import MAX_STEPS
from workups.documents import DocumentError
from workups.documents.pointers import items_at, put, take_away
from workups.documents.rewrite import rewrite, same
from workups.documents.toml_text import parse
from workups.models import DraftState, ExerciseDraft
from workups.selectors.plans import PlanLine
from workups.services.drafts import change_draft
from workups.services.plan_edits import NoSuchStep, PlanData, PlanEdit, find_step, steps_of
from workups.web.access import CourseAccess, current_person, get_draft_for
from workups.web.authoring.form.context import frame_context
from workups.web.authoring.form.live import live_model, panel_context
from workups.web.authoring.form.parts import BY_SLUG, PLAN
from workups.web.authoring.form.routes import (
    MODEL,
    Route,
    free_id,
    put_on_bench,
    read_route,
    route_count,
    route_path,
)
from workups.web.authoring.form.saving import StalePart, data_of
from workups.web.authoring.form.views import CHANGED, CHECK, UNREADABLE
from workups.web.plan_editor import (
    Editor,
    NotSaved,
    VersionForm,
    edit_steps,
    is_live,
    moved,
    render_steps,
)
from workups.web.requests import FORM_METHODS, HtmxRequest
from workups.web.step_forms import StepForm
from workups.words.material_facts import material_name
from workups.words.numbers import joined

MOST_ROUTES = 12


class RoutePlan(Editor):
    """A route in the draft of an exercise: it is a list in the draft's text, saved with it."""

    page = "workups/authoring/form/edit_route.html"
    fragment = "workups/authoring/form/_route.html"
    beside = ("workups/authoring/form/_parts.html",)
    status = "workups/authoring/form/_route_status.html"
    id = "part"
    level = 3
    says_empty = False
    live_on = "change, input delay:900ms"

    def __init__(
        self, request: HtmxRequest, access: CourseAccess, draft: ExerciseDraft, number: int
    ) -> None:
        self.request, self.draft, self.number = request, draft, number
        self.is_changed = False
        super().__init__(access, self.route.exercise)

    @cached_property
    def route(self) -> Route:
        return read_route(data_of(self.draft), self.number)

    @property
    def data(self) -> PlanData:
        return {"steps": self.route.plan_data}

    @property
    def version(self) -> int:
        return self.draft.version

    @property
    def address(self) -> str:
        url = reverse("edit-route", args=[self.draft.public_id])
        return f"{url}?route={self.number}" if self.number else url

    def new_id(self, verb: str, version: int) -> str:
        shown = self._state(version)
        route = read_route(parse(shown.document), self.number) if shown else self.route
        return free_id(route.raw, verb)

    def form(self, line: PlanLine, data: Any = None) -> StepForm:
        form = super().form(line, data)
        if "note" in form.fields:
            form.fields["note"].label = "Note"
        return form

    def save(self, request: HtmxRequest, edit: PlanEdit, version: int) -> None:
        try:
            self._save(edit, version)
        except StalePart as stale:
            raise NotSaved(self._say_stale(request, stale.current, edit)) from None
        except ValidationError as error:
            raise self.refused(request, " ".join(error.messages)) from None

    def _save(self, edit: PlanEdit, version: int) -> None:
        on_bench: list[str] = []

        def change(current: ExerciseDraft) -> str:
            before = parse(current.document)
            route = read_route(before, self.number)
            now: PlanData = {"steps": route.plan_data}
            steps = steps_of(edit.apply(now))
            if len(steps) > max(MAX_STEPS, len(steps_of(now))):
                raise ValidationError(f"A plan has at most {MAX_STEPS} steps.")
            after = copy.deepcopy(before)
            raw = route.raw_of(steps, edit.touches)
            if raw or route.raw:
                put(after, route_path(self.number), raw)
            if same(before, after):
                return current.document
            if version != current.version:
                shown = self._as_of(version)
                if edit.is_made(shown, now):
                    return current.document
                if edit.clashes(shown, now):
                    raise StalePart(current)
            told = {step["id"] for step in steps if step["id"] in edit.touches}
            for step in raw:
                if isinstance(step, dict) and step.get("id") in told:
                    on_bench.extend(put_on_bench(after, step))
            self.is_changed = True
            return rewrite(current.document, after)

        self.draft = change_draft(actor=self.access.person, draft=self.draft, change=change)
        self._look_again()
        if on_bench and not is_live(self.request):
            names = [material_name(key, self.exercise) for key in on_bench]
            messages.info(self.request, f"{joined(names).capitalize()} was put on the bench.")

    def _state(self, version: int) -> DraftState | None:
        """An earlier state of the draft, as long as it is kept."""
        return DraftState.objects.filter(draft=self.draft, version=version).first()

    def _as_of(self, version: int) -> PlanData:
        """The route as it was in a state of the draft; empty where that is not kept any more."""
        state = self._state(version)
        if state is None:
            return {"steps": []}
        return {"steps": read_route(parse(state.document), self.number).plan_data}

    def _look_again(self) -> None:
        vars(self).pop("route", None)
        self.exercise = self.route.exercise

    def _say_stale(
        self, request: HtmxRequest, current: ExerciseDraft, edit: PlanEdit
    ) -> HttpResponse:
        """What was typed stays in the form of the step; what the other saved is its sentence."""
        self.draft = current
        self._look_again()
        step_id = next((i for i in edit.touches if find_step(self.data, i)), "")
        line = self.line(step_id)
        typed = request.POST if request.POST.get("do", "").startswith("edit:") else None
        form = self.form(line, typed) if line and typed is not None else None
        answer = render_steps(request, self, step_id, form, stale=current)
        return reswap(retarget(answer, "#part"), "outerHTML") if is_live(request) else answer

    def said(self, answer: HttpResponse) -> HttpResponse:
        return trigger_client_event(answer, CHANGED) if self.is_changed else answer

    def context(self, _lines: list[PlanLine]) -> dict[str, Any]:
        context = {
            **frame_context(self.access, self.draft, BY_SLUG[PLAN]),
            "route": self.route,
            "routes": [
                (n, "Model plan" if n == MODEL else f"Alternative {n}")
                for n in range(route_count(data_of(self.draft)))
            ],
        }
        if CHECK in self.request.GET and not is_live(self.request):
            context |= panel_context(live_model(self.draft.document))
        return context

    def change_routes(self, do: str, version: int | None) -> None:
        """Add an alternative as a copy of this one, or take this one away; once for each state of
        the routes that a page showed, so that a double click does it once."""
        shown = None if version is None else self._state(version)
        seen = None if shown is None else route_count(parse(shown.document))

        def change(current: ExerciseDraft) -> str:
            before = parse(current.document)
            after, count = copy.deepcopy(before), route_count(before)
            if seen is not None and seen != count:
                self.number = MODEL if do == "remove-route" else count - 1
                return current.document
            if do == "remove-route":
                if not MODEL < self.number < count:
                    raise NoSuchStep
                take_away(after, ("alternative", self.number))
                self.number = MODEL
            elif count <= MOST_ROUTES:
                steps = copy.deepcopy(items_at(before, route_path(self.number)))
                put(after, ("alternative", count), {"step": steps} if steps else {})
                self.number = count
            return current.document if same(before, after) else rewrite(current.document, after)

        self.draft = change_draft(actor=self.access.person, draft=self.draft, change=change)
        self._look_again()


class RouteForm(forms.Form):
    """Which route is looked at."""

    route = forms.IntegerField(min_value=0, max_value=99, required=False)

    @property
    def number(self) -> int:
        return (self.cleaned_data.get("route") if self.is_valid() else None) or MODEL


@require_http_methods(FORM_METHODS)
def edit_route(request: HtmxRequest, draft_id: UUID) -> HttpResponse:
    access, draft = get_draft_for(current_person(request), draft_id, to_change=True)
    try:
        number = RouteForm(request.GET).number
        is_there = number < route_count(data_of(draft))
        editor = RoutePlan(request, access, draft, number if is_there else MODEL)
        do = request.POST.get("do", "")
        if do not in ("add-route", "remove-route"):
            return edit_steps(request, editor)
        try:
            shown = VersionForm(request.POST)
            editor.change_routes(do, shown.cleaned_data["version"] if shown.is_valid() else None)
        except NoSuchStep:
            messages.warning(request, "That step is no longer in the plan.")
        return editor.moved(request)
    except DocumentError:
        messages.error(request, UNREADABLE)
        return moved(request, reverse("edit-draft", args=[draft_id]))
