"""The model plan and its alternatives: plain data of the document as steps to show and change.

A step that is not right yet stays in the document with what was typed, as everything else does.
"""

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from workups.chemistry.fields import ID_PATTERN
from workups.chemistry.plan import STEP_KINDS, FieldKind, Plan, field_specs
from workups.chemistry.setup import OwnMaterial, Reaction, Setup
from workups.documents import known_names, step_from_data, step_to_data
from workups.documents.decode import Decoder
from workups.documents.encode import encode_record
from workups.documents.errors import Path
from workups.documents.pointers import MISSING, items_at, put, value_at
from workups.documents.rewrite import same
from workups.documents.shapes import entries
from workups.exercise.exercise import Exercise
from workups.web.authoring.form.texts import number_text, read_number

MODEL = 0
_ID = re.compile(ID_PATTERN)
_NUMBERS = frozenset({FieldKind.QUANTITY, FieldKind.COUNT})


def route_path(route: int) -> Path:
    """Where the steps of a route stand: 0 the model plan, from 1 the alternatives."""
    return ("model_plan", "step") if route == MODEL else ("alternative", route, "step")


def route_count(data: Any) -> int:
    """How many routes there are, the model plan among them."""
    return 1 + len(items_at(data, ("alternative",)))


def bench_of(data: Any) -> Exercise:
    """An exercise with nothing but a bench: what a plan's forms and sentences need to know.

    Everything the tables have is offered, what stands on the bench first; what a route uses is
    put on the bench when it is saved.
    """
    own = [
        OwnMaterial(item["key"], str(item.get("name", item["key"])), 1.0, {})
        for item in items_at(data, ("own_material",))
        if isinstance(item, dict) and isinstance(item.get("key"), str)
    ]
    there = [key for key in items_at(data, ("materials",)) if isinstance(key, str)]
    names = known_names()
    every = (*names.solvents, *names.solutions, *names.agents)
    materials = tuple(dict.fromkeys((*there, *sorted(every))))
    setup = Setup(Reaction(()), (), materials, own_materials=tuple(own))
    return Exercise("", "", setup, Plan(()))


@dataclass(frozen=True)
class Route:
    """The steps of a route that can be shown; `unreadable` are positions of those that cannot."""

    number: int
    exercise: Exercise
    raw: list[Any]
    plan_data: list[dict[str, Any]] = field(default_factory=list)
    unreadable: tuple[int, ...] = ()

    @property
    def title(self) -> str:
        return "Model plan" if self.number == MODEL else f"Alternative {self.number}"

    def raw_of(self, steps: Sequence[Mapping[str, Any]], told: Collection[str]) -> list[Any]:
        """The steps as the document has them. Those in `told`, and new ones, are written anew; what
        cannot be read stays behind what it stood behind."""
        after: dict[str, list[Any]] = {"": []}
        stands: dict[str, Any] = {}
        last, ids = "", iter(step["id"] for step in self.plan_data)
        for at, item in enumerate(self.raw, 1):
            if at in self.unreadable:
                after[last].append(item)
            else:
                last = next(ids)
                stands[last], after[last] = item, []
        raw = [*after.pop("")]
        for step in steps:
            old = stands.get(step["id"])
            is_new = old is None or step["id"] in told
            raw.append(raw_step(step, old or self._twin(step, stands)) if is_new else old)
            raw += after.pop(step["id"], [])
        return [*raw, *(item for items in after.values() for item in items)]


    def _twin(self, step: Mapping[str, Any], stands: Mapping[str, Any]) -> Mapping[str, Any]:
        """How the document says the step that this one is a copy of; nothing where it is none."""
        alike = (one["id"] for one in self.plan_data if {**one, "id": step["id"]} == step)
        found: Mapping[str, Any] = stands.get(next(alike, ""), {})
        return found


def read_route(data: Any, number: int) -> Route:
    exercise = bench_of(data)
    raw = items_at(data, route_path(number))
    readable = [(at, item) for at, item in enumerate(raw, 1) if is_step(item)]
    known = {at for at, _ in readable}
    unreadable = tuple(at for at in range(1, len(raw) + 1) if at not in known)
    return Route(number, exercise, raw, list(_plan_data(readable, exercise)), unreadable)


def is_step(item: Any) -> bool:
    verb = item.get("verb") if isinstance(item, dict) else None
    return isinstance(verb, str) and verb in STEP_KINDS


def _plan_data(
    readable: Sequence[tuple[int, dict[str, Any]]], exercise: Exercise
) -> Iterator[dict[str, Any]]:
    used: set[str] = set()
    for at, item in readable:
        step_id = item.get("id")
        if not isinstance(step_id, str) or not _ID.fullmatch(step_id) or step_id in used:
            step_id = f"step{at}"
        used.add(step_id)
        step = decoded({**item, "id": step_id}, exercise)
        if step is not None:
            yield step_to_data(step)
        else:
            yield {"id": step_id, "verb": item["verb"], "typed": typed_of(item)}


def decoded(item: Mapping[str, Any], exercise: Exercise) -> Any:
    """The step of plain data, None where something in it is not right yet."""
    names = known_names().with_own(m.key for m in exercise.setup.own_materials)
    decoder = Decoder(names)
    step = decoder.step(dict(item), ())
    return None if decoder.problems else step


def typed_of(item: Mapping[str, Any]) -> dict[str, Any]:
    """What stands in a step's data, as its form takes it."""
    typed: dict[str, Any] = {}
    for name, spec in field_specs(STEP_KINDS[item["verb"]]).items():
        value = item.get(name)
        if spec.kind is FieldKind.FLAG:
            default = STEP_KINDS[item["verb"]].__dataclass_fields__[name].default
            typed[name] = default if value is None else value is True
        elif spec.kind is FieldKind.FLASKS:
            typed[name] = [str(v) for v in value] if isinstance(value, list) else []
        elif value is not None:
            typed[name] = number_text(value)
    return typed


def raw_step(step: Mapping[str, Any], old: Mapping[str, Any]) -> dict[str, Any]:
    """A step of a plan as the document has it: what says no more than the default only where it
    stood there before, and what was typed where it is no step yet."""
    head = {"verb": step["verb"], "id": step["id"]}
    if "typed" in step:
        return head | _typed_data(step)
    kind: Any = STEP_KINDS[step["verb"]]
    defaults = {e.key: e.default for e in entries(kind)}
    said = encode_record(step_from_data(step))
    return head | {
        key: value
        for key, value in said.items()
        if key in old or key in head or not same(value, defaults.get(key))
    }


def _typed_data(step: Mapping[str, Any]) -> dict[str, Any]:
    data: dict[str, Any] = {}
    specs = field_specs(STEP_KINDS[step["verb"]])
    for name, value in step["typed"].items():
        kind = specs[name].kind
        if kind is FieldKind.FLAG:
            data[name] = bool(value)
        elif isinstance(value, str) and value and kind in _NUMBERS:
            data[name] = read_number(value)
        elif value not in ("", [], None):
            data[name] = value
    return data


def put_on_bench(data: dict[str, Any], step: Mapping[str, Any]) -> list[str]:
    """Put the materials that a step of the document uses on the bench; gives those that were not
    there."""
    names = known_names()
    known = names.solvents | names.solutions | names.agents
    there = value_at(data, ("materials",))
    if there is not MISSING and not isinstance(there, list):
        return []
    listed = list(there) if isinstance(there, list) else []
    specs = field_specs(STEP_KINDS[step["verb"]])
    used = [
        value
        for name, spec in specs.items()
        if spec.kind is FieldKind.MATERIAL and (value := step.get(name)) in known
    ]
    new = [key for key in dict.fromkeys(used) if key not in listed]
    if new:
        put(data, ("materials",), [*listed, *new])
    return new


def free_id(raw: Sequence[Any], verb: str) -> str:
    """A short name for a new step: its verb, with a number where that is taken."""
    taken = {item.get("id") for item in raw if isinstance(item, dict)}
    number, found = 2, verb
    while found in taken:
        found, number = f"{verb}-{number}", number + 1
    return found
