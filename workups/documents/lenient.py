"""Lenient reading of an unfinished exercise: the part that can already be carried out.

An author sees what the model plan does while the exercise is being written. What has nothing to
do with the chemistry and is wrong or missing is left out for that, the model plan is followed as
far as it can be read, and what is left out is said.
"""

import re
from dataclasses import dataclass
from typing import Any

from workups.chemistry.plan import START_FLASK
from workups.exercise.exercise import Exercise

from .errors import DocumentError, Problem, dotted
from .files import exercise_of
from .pointers import items_at, put, take_away, value_at
from .shapes import unfolded
from .toml_text import VERSION, parse

_NAMES = {"key": "unnamed", "title": "Unnamed"}
_ITEM_BY_ITEM = ("values", "substance", "own_material", "slow_reaction")
_DEFAULTED = frozenset(key for key, entry in unfolded(Exercise).items()
                       if not entry.required and key not in _ITEM_BY_ITEM)
_STEP = re.compile(r"model_plan\.step\[(\d+)\]")
_STAND_IN = {"verb": "cool", "id": "stand-in", "flask": START_FLASK, "to_C": 20}
_TRIES = 6


@dataclass(frozen=True)
class LenientReading:
    """What can be carried out. ``steps``: how many of the plan's ``of_steps``; 0: none can yet."""

    exercise: Exercise | None
    steps: int
    of_steps: int
    problems: tuple[Problem, ...] = ()


def read_leniently(text: str) -> LenientReading:
    """The exercise as far as it can be carried out, and what stands in the way of the rest."""
    try:
        data = parse(text)
    except DocumentError as error:
        return LenientReading(None, 0, 0, error.problems)
    of_steps = len(items_at(data, ("model_plan", "step")))
    try:
        return LenientReading(exercise_of(data, text), of_steps, of_steps)
    except DocumentError as error:
        problems = error.problems
    put(data, ("document",), "exercise")
    put(data, ("version",), VERSION)
    standing_in = False
    for _ in range(_TRIES):
        standing_in = _leave_out(data, problems) or standing_in
        try:
            exercise = exercise_of(data)
        except DocumentError as error:
            problems = error.problems
        else:
            steps = 0 if standing_in else len(exercise.model_plan.steps)
            return LenientReading(exercise, steps, of_steps, problems)
    return LenientReading(None, 0, of_steps, problems)


def _leave_out(data: dict[str, Any], problems: tuple[Problem, ...]) -> bool:
    """Leave out what the problems are about where that is harmless; whether a step stands in."""
    numbers = [int(found[1]) for p in problems if (found := _STEP.match(p.where))]
    first_bad = min(numbers, default=None)
    if first_bad is not None:
        put(data, ("model_plan", "step"), items_at(data, ("model_plan", "step"))[: first_bad - 1])
    for problem in problems:
        head = re.split(r"[.\[]", problem.where, maxsplit=1)[0]
        if head in _DEFAULTED:
            take_away(data, (head,))
        elif head in _NAMES:
            put(data, (head,), _NAMES[head])
        elif head == "materials":
            put(data, ("materials",), [])
        elif head == "target":
            _stand_in_target(data)
    _drop_items(data, problems)
    if not items_at(data, ("model_plan", "step")):
        put(data, ("model_plan", "step"), [dict(_STAND_IN)])
        return True
    return False


def _drop_items(data: dict[str, Any], problems: tuple[Problem, ...]) -> None:
    """Own values, own solutions and slow reactions that are not right yet are left out whole."""
    values = value_at(data, ("values",))
    for name in list(values) if isinstance(values, dict) else []:
        if _concerns(dotted(("values", name)), problems):
            take_away(data, ("values", name))
    for key in ("own_material", "slow_reaction"):
        for number in range(len(items_at(data, (key,))), 0, -1):
            if _concerns(dotted((key, number)), problems):
                take_away(data, (key, number))


def _concerns(where: str, problems: tuple[Problem, ...]) -> bool:
    return any(p.where == where or p.where.startswith(f"{where}.") for p in problems)


def _stand_in_target(data: dict[str, Any]) -> None:
    """Something of the reaction to follow, while nobody has said what is to be isolated."""
    for where in ("product", "reagent"):
        for row in items_at(data, ("reaction", where)):
            substance = value_at(row, ("substance",))
            if isinstance(substance, str) and substance:
                put(data, ("target",), [{"substance": substance}])
                return
