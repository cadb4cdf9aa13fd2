"""What a button or form of the plan part does to the draft."""

import copy
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from django.http import QueryDict

from workups.chemistry.fields import MAX_STEPS
from workups.chemistry.plan import STEP_KINDS
from workups.documents.places import items_at, put, take_away, value_at
from workups.documents.rewrite import rewrite, same
from workups.documents.toml_text import parse
from workups.models import ExerciseDraft, Person
from workups.services.drafts import change_draft
from workups.web.authoring.form.routes import (
    MODEL,
    free_id,
    put_on_bench,
    read_route,
    route_count,
    route_path,
    state_of_step,
    step_form,
    step_of_form,
)
from workups.web.authoring.form.saving import StalePart
from workups.web.planning.builder import new_step

MOST_ROUTES = 12


class NoSuchStep(Exception):
    """The step, or the route, is no longer there."""


@dataclass
class RouteSaved:
    """The draft after a change, the route and step to look at then, what came onto the bench."""

    draft: ExerciseDraft
    route: int = MODEL
    step_id: str = ""
    on_bench: list[str] = field(default_factory=list)
    is_changed: bool = False


@dataclass(frozen=True)
class RouteChange:
    """One change that was asked for: `do` is a verb with what it is about after a colon."""

    do: str
    about: str
    route: int
    sent: QueryDict

    @property
    def base(self) -> str:
        return str(self.sent.get("base", ""))


Change = Callable[[dict[str, Any], RouteChange, RouteSaved], None]


def save_route(
    *, actor: Person, draft: ExerciseDraft, change: RouteChange
) -> RouteSaved:
    """Change a route in the draft's newest text.

    Raises NoSuchStep, StalePart where somebody else changed the same step, and DocumentError.
    """
    outcome = RouteSaved(draft, change.route)

    def apply(current: ExerciseDraft) -> str:
        before = parse(current.document)
        after = copy.deepcopy(before)
        if not MODEL <= change.route < route_count(before):
            raise NoSuchStep
        try:
            _CHANGES[change.do](after, change, outcome)
        except _Stale:
            raise StalePart(current) from None
        if same(before, after):
            return current.document
        outcome.is_changed = True
        return rewrite(current.document, after)

    outcome.draft = change_draft(actor=actor, draft=draft, change=apply)
    return outcome


class _Stale(Exception):
    pass


def _position(data: dict[str, Any], change: RouteChange, step_id: str) -> int:
    found = read_route(data, change.route).find(step_id)
    if found is None:
        raise NoSuchStep
    return found.position


def _edit(data: dict[str, Any], change: RouteChange, outcome: RouteSaved) -> None:
    route = read_route(data, change.route)
    found = route.find(change.about)
    if found is None:
        raise NoSuchStep
    old = route.raw[found.position - 1]
    new = step_of_form(step_form(route, found.line, change.sent), old)
    if not same({**old, "id": found.line.id}, new) and change.base != state_of_step(old):
        raise _Stale
    put(data, (*route_path(change.route), found.position), new)
    outcome.step_id = found.line.id
    outcome.on_bench = put_on_bench(data, new)


def _add(data: dict[str, Any], change: RouteChange, outcome: RouteSaved) -> None:
    route = read_route(data, change.route)
    if change.about not in STEP_KINDS or len(route.raw) >= MAX_STEPS:
        return
    step_id = free_id(route.raw, change.about)
    made = new_step(change.about, step_id, {"steps": route.plan_data})
    filled = {name: value for name, value in made["typed"].items() if value != ""}
    step = {"verb": change.about, "id": step_id, **filled}
    after = str(change.sent.get("after", ""))
    found = route.find(after)
    at = found.position if found else len(route.raw)
    steps = [*route.raw[:at], step, *route.raw[at:]]
    put(data, route_path(change.route), steps)
    outcome.step_id = step_id


def _remove(data: dict[str, Any], change: RouteChange, _: RouteSaved) -> None:
    at = _position(data, change, change.about)
    if change.base != state_of_step(value_at(data, (*route_path(change.route), at))):
        raise _Stale
    take_away(data, (*route_path(change.route), at))


def _duplicate(data: dict[str, Any], change: RouteChange, outcome: RouteSaved) -> None:
    at = _position(data, change, change.about)
    steps = items_at(data, route_path(change.route))
    twin = copy.deepcopy(steps[at - 1])
    twin["id"] = free_id(steps, str(twin.get("verb", "step")))
    steps.insert(at, twin)
    outcome.step_id = twin["id"]


def _move(by: int) -> Change:
    def move(data: dict[str, Any], change: RouteChange, _: RouteSaved) -> None:
        at = _position(data, change, change.about)
        steps = items_at(data, route_path(change.route))
        to = at + by
        if 1 <= to <= len(steps):
            steps.insert(to - 1, steps.pop(at - 1))

    return move


def _add_route(data: dict[str, Any], change: RouteChange, outcome: RouteSaved) -> None:
    count = route_count(data)
    if count > MOST_ROUTES:
        return
    steps = copy.deepcopy(items_at(data, route_path(change.route)))
    put(data, ("alternative", count), {"step": steps} if steps else {})
    outcome.route = count


def _remove_route(data: dict[str, Any], change: RouteChange, outcome: RouteSaved) -> None:
    if change.route == MODEL:
        raise NoSuchStep
    take_away(data, ("alternative", change.route))
    outcome.route = MODEL


_CHANGES: dict[str, Change] = {
    "edit": _edit,
    "add": _add,
    "remove": _remove,
    "copy": _duplicate,
    "up": _move(-1),
    "down": _move(1),
    "add-route": _add_route,
    "remove-route": _remove_route,
}
DOINGS = frozenset(_CHANGES)
