"""Every choice that an instructor can type changes something, or it is not asked for.

Each declared field of an exercise, down to the fields of its steps, is given another value, and
something that people see has to differ: the assessment of a plan with its readings, an author's
warnings, the sentences of the plan, the stockroom's list, the values a page says were used. What
is only prose or policy is read by a page or a service under its name.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import is_dataclass, replace
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import pytest

from workups.chemistry.plan import STEP_KINDS, Add, Cool, Dry, Step, Strip
from workups.chemistry.readings import DryingRecord, Readings, TargetReadings, Weighing, Witness
from workups.chemistry.run import CANNOT
from workups.chemistry.tables import tables
from workups.documents import library_exercise, load_exercise
from workups.documents.shapes import Entry, Enumerated, Flag, Number, TableOf, Text, entries
from workups.exercise.exercise import Exercise, FeedbackPolicy
from workups.explanation.model_summary import plan_warnings
from workups.explanation.values_used import values_used
from workups.grading.assess import assess
from workups.grading.reagent_table import reagent_lines
from workups.stock.stock import stock_for_one
from workups.words.cautions import step_caution
from workups.words.material_facts import material_facts
from workups.words.sentences import step_sentence

ROOT = Path(__file__).parents[2]
DATA = ROOT / "tests" / "data"
MOST_TRIED = 4
POLICY = {
    (FeedbackPolicy, name) for name in ("detail", "attempts", "scheme", "predict")}
Remade = Callable[[Any], Exercise]


@cache
def exercises() -> tuple[Exercise, ...]:
    """Of the library and of the tests, so many that every field stands in one of them."""
    own = load_exercise((DATA / "exercises" / "acid-of-its-own.toml").read_text(encoding="utf-8"))
    [substance] = own.setup.own_substances
    volatile = replace(substance, antoine=tables().substances["toluene"].antoine)
    bottle = load_exercise((DATA / "procedures" / "amine-through-acid-and-back.toml").read_text(
        encoding="utf-8"))
    return (*(library_exercise(k) for k in (
        "plain-ether", "too-much-vinegar", "handle-gently", "three-in-one-bottle", "catch-it")),
        replace(own, setup=replace(own.setup, own_substances=(volatile,))), bottle)


def leaves(value: Any, remade: Remade) -> Iterator[tuple[type, Entry, Any, Remade]]:
    """Every field below a dataclass that holds no other: its kind, entry, value, and how the
    exercise is made with another one."""
    for entry in entries(type(value)):
        inner = getattr(value, entry.attribute)

        def put(new: Any, name: str = entry.attribute) -> Exercise:
            return remade(replace(value, **{name: new}))

        if is_dataclass(inner):
            yield from leaves(inner, put)
        elif isinstance(inner, tuple) and inner and is_dataclass(inner[0]):
            for i, one in enumerate(inner):
                yield from leaves(one, lambda new, i=i, inner=inner, put=put: put(
                    (*inner[:i], new, *inner[i + 1:])))
        elif isinstance(inner, Mapping) and inner and is_dataclass(next(iter(inner.values()))):
            for key, one in inner.items():
                yield from leaves(one, lambda new, key=key, inner=inner, put=put: put(
                    {**inner, key: new}))
        else:
            yield type(value), entry, inner, put


@cache
def places() -> dict[tuple[type, str], list[tuple[Exercise, Entry, Any, Remade]]]:
    """Where each field stands, in which exercise."""
    found: dict[tuple[type, str], list[tuple[Exercise, Entry, Any, Remade]]] = {}
    for exercise in exercises():
        for kind, entry, value, put in leaves(exercise, lambda new: new):
            found.setdefault((kind, entry.attribute), []).append((exercise, entry, value, put))
    return found


def others(entry: Entry, value: Any) -> Iterator[Any]:
    """Other values that a field may have."""
    shape = entry.shape
    if isinstance(shape, Flag):
        yield not value
    elif isinstance(shape, Number):
        low = -1e9 if shape.low is None else shape.low
        high = 1e9 if shape.high is None else shape.high
        tried = [low, high] if value is None else [
            0.98 * value, 1.02 * value, 1.4 * value + 1, 0.5 * value, low, high]
        made = (round(t) if shape.whole else t for t in tried if low <= t <= high)
        yield from dict.fromkeys(t for t in made if t != value)
    elif isinstance(shape, Enumerated):
        yield from (v for v in shape.kind if v != value)
    elif isinstance(shape, Text) and shape.choices:
        yield from (v for v in shape.choices if v != value)
    elif isinstance(shape, TableOf) and isinstance(shape.item, Number) and value:
        for key in value:
            yield {**value, key: 1.5 * value[key] + 0.1}
    elif isinstance(shape, Text) and not shape.role and not shape.pattern:
        yield f"{value} and more"


def readings(exercise: Exercise) -> Readings:
    """Everything weighed, wet and seen, the same for every exercise."""
    weighed = TargetReadings(
        (Weighing("tare", 50.0), Weighing("gross", 52.2), Weighing("gross", 52.2)),
        (Witness("mp", "", 35.0, 40.0, False),))
    dried = tuple(DryingRecord(s.id, 0.4, 2, "clumped", "cloudy", 5.0)
                  for s in exercise.model_plan.steps if isinstance(s, Dry))
    return Readings(targets={t.substance: weighed for t in exercise.setup.targets}, drying=dried)


def _said(exercise: Exercise) -> object:
    plans = (exercise.model_plan, *exercise.alternatives)
    return (
        [(step_sentence(s, exercise), step_caution(s, exercise), s.note)
         for plan in plans for s in plan.steps],
        [material_facts(m, exercise) for m in exercise.setup.materials],
        values_used(exercise), reagent_lines(exercise, exercise.setup.tables))


def _assessed(exercise: Exercise) -> object:
    found = assess(exercise, draws=2)
    return found, plan_warnings(exercise, exercise.model_plan, found)


def _clumsy(exercise: Exercise) -> object:
    """The model plan never cooled, with salt water poured in before the solvent comes off."""
    plan = exercise.model_plan
    plan = plan.without(*(s.id for s in plan.steps if isinstance(s, Cool)))
    strip = next((s for s in plan.steps if isinstance(s, Strip)), None)
    if strip is None:
        return None
    wet = Add(id="wetted", flask=strip.flask, material="brine", volume_mL=1.0)
    return assess(exercise, plan.inserting(plan.index(strip.id), wet), draws=2)


FACES: tuple[Callable[[Exercise], object], ...] = (
    _said, stock_for_one, _assessed, lambda e: assess(e, None, readings(e), draws=8), _clumsy)


@cache
def _before(exercise_key: str, face: int) -> str:
    return repr(FACES[face](next(e for e in exercises() if e.key == exercise_key)))


def differs(exercise: Exercise, changed: Exercise) -> bool:
    """Whether anything that people see of two exercises differs; an exercise that nothing can be
    computed of any more is another one."""
    for i, face in enumerate(FACES):
        before = _before(exercise.key, i)
        try:
            after = repr(face(changed))
        except CANNOT:
            return True
        if after != before:
            return True
    return False


@cache
def _texts() -> str:
    """Everything that reads an exercise, without what declares, stores and edits it."""
    modules = [p for p in (ROOT / "workups").rglob("*.py")
               if not {"documents", "form", "migrations"} & set(p.parts)]
    return "\n".join(p.read_text(encoding="utf-8") for p in (
        *modules, *(ROOT / "templates").rglob("*.html")))


def is_named(attribute: str) -> bool:
    """Whether a page, a sheet, a service or a rule reads a field of this name."""
    return re.search(rf"\.{attribute}\b", _texts()) is not None


def is_prose(kind: type, entry: Entry, value: Any) -> bool:
    shape = entry.shape
    free = isinstance(shape, Text) and not shape.choices
    return free or (kind, entry.attribute) in POLICY or not any(True for _ in others(entry, value))


DECLARED = sorted(places(), key=lambda place: (place[0].__name__, place[1]))


@pytest.mark.parametrize("place", DECLARED, ids=lambda p: f"{p[0].__name__}.{p[1]}")
def test_what_can_be_typed_is_read_by_something(place: tuple[type, str]) -> None:
    found = places()[place]
    if all(is_prose(place[0], entry, value) for _, entry, value, _ in found):
        assert is_named(place[1])
        return
    assert any(differs(exercise, changed) for exercise, changed in _tried(found))


def _tried(found: list[tuple[Exercise, Entry, Any, Remade]]) -> Iterator[tuple[Exercise, Exercise]]:
    """Exercises beside the same with one field changed, where that is an exercise still."""
    first: dict[str, tuple[Exercise, Entry, Any, Remade]] = {}
    for place in found:
        first.setdefault(place[0].key, place)
    for exercise, entry, value, put in first.values():
        for other in islice(others(entry, value), MOST_TRIED):
            with suppress(ValueError):
                yield exercise, put(other)


def test_every_kind_of_thing_in_an_exercise_was_walked() -> None:
    kinds = {kind for kind, _ in places()}
    assert {k.__name__ for k in kinds} >= {
        "Exercise", "Setup", "Reagent", "Product", "Target", "Glassware", "Spread", "OwnMaterial",
        "SlowReaction", "Substance", "Antoine", "Quantity", "Rubric", "Choice", "FeedbackPolicy",
        "Texts"}
    assert len({k for k in kinds if issubclass(k, Step)}) >= 0.6 * len(STEP_KINDS)
