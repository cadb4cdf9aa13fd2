"""Changes to a plan's data, one a function: plain data in, plain data out, nothing saved.

Plan data is `{"steps": [...]}`. A step is the plain data of the document format, or, while its
form is not filled in correctly, `{"id", "verb", "typed": {...}}` with what was typed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from workups.services.refusals import Refused

StepData = Mapping[str, Any]
PlanData = Mapping[str, Any]


class NoSuchStep(Refused):
    """The step is not in this state of the plan: it was removed elsewhere."""


@dataclass(frozen=True)
class PlanEdit:
    """One change. `touches` are the ids of steps that must be as they were when it was made;
    `undone_to` is the version that it goes back to, where it undoes a change."""

    words: str
    apply: Callable[[PlanData], PlanData]
    touches: tuple[str, ...] = ()
    undone_to: int | None = None

    def clashes(self, base: PlanData, current: PlanData) -> bool:
        """Whether a step this change is about was changed since `base`."""
        return any(find_step(base, i) != find_step(current, i) for i in self.touches)

    def is_made(self, base: PlanData, current: PlanData) -> bool:
        """Whether the plan is what this change makes of `base`: a double click sent it before."""
        try:
            return self.apply(base) == current
        except NoSuchStep:
            return False


def steps_of(data: PlanData) -> list[StepData]:
    return list(data.get("steps", []))


def find_step(data: PlanData, step_id: str) -> StepData | None:
    return next((step for step in steps_of(data) if step["id"] == step_id), None)


def position_of(data: PlanData, step_id: str) -> int:
    for position, step in enumerate(steps_of(data)):
        if step["id"] == step_id:
            return position
    raise NoSuchStep(step_id)


def is_complete(step: StepData) -> bool:
    return "typed" not in step


def new_step_id(data: PlanData) -> str:
    """A short id that no step of this plan has: s1, s2, ..."""
    used = {step["id"] for step in steps_of(data)}
    number = len(used) + 1
    while f"s{number}" in used:
        number += 1
    return f"s{number}"


def put_step(step: StepData, words: str) -> PlanEdit:
    """The step takes the place of the one with its id."""

    def apply(data: PlanData) -> PlanData:
        steps = steps_of(data)
        steps[position_of(data, step["id"])] = step
        return {**data, "steps": steps}

    return PlanEdit(words, apply, touches=(step["id"],))


def add_step(step: StepData, words: str, after: str = "") -> PlanEdit:
    """A new step after another, or at the end; at the end too if that other has gone.

    The same step added already, by a double click, is not added again; another one of its id, added
    at the same moment, keeps the id.
    """

    def apply(data: PlanData) -> PlanData:
        there = find_step(data, step["id"])
        if there is not None and there["verb"] == step["verb"]:
            return data
        new = step if there is None else {**step, "id": new_step_id(data)}
        steps = steps_of(data)
        known = find_step(data, after) is not None
        steps.insert(position_of(data, after) + 1 if known else len(steps), new)
        return {**data, "steps": steps}

    return PlanEdit(words, apply)


def remove_step(step_id: str, words: str) -> PlanEdit:
    def apply(data: PlanData) -> PlanData:
        steps = steps_of(data)
        del steps[position_of(data, step_id)]
        return {**data, "steps": steps}

    return PlanEdit(words, apply, touches=(step_id,))


def move_step(step_id: str, by: int, words: str) -> PlanEdit:
    """The step goes down by so many places (up if negative), as far as there are any."""

    def apply(data: PlanData) -> PlanData:
        steps = steps_of(data)
        at = position_of(data, step_id)
        step = steps.pop(at)
        steps.insert(max(0, min(len(steps), at + by)), step)
        return {**data, "steps": steps}

    return PlanEdit(words, apply)
