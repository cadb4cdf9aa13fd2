"""What a document holds, derived from the dataclasses: one description for reading, writing
and the printed schema.

Every field of a dataclass becomes an ``Entry`` with a ``Shape``. Step kinds describe their own
fields (``FieldSpec``); for the other dataclasses ``rules.py`` adds ranges, choices and help.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from workups.chemistry.plan import STEP_KINDS, WASTE, FieldKind, FieldSpec, Step, field_specs

from .limits import FLASK_LENGTH, KEY_LENGTH, MAX_ITEMS, NOTE_LENGTH
from .rules import ID_PATTERN, RULES, Rule


@dataclass(frozen=True)
class Text:
    """A string. ``role`` names the table its value must be in; ``filled``: not blank; ``says``:
    what it is, in words."""

    max_length: int = NOTE_LENGTH
    choices: tuple[str, ...] = ()
    role: str = ""
    pattern: str = ""
    says: str = ""
    filled: bool = False
    lines: bool = True


@dataclass(frozen=True)
class Number:
    """A finite number in ``unit``, between ``low`` and ``high`` where given."""

    low: float | None = None
    high: float | None = None
    unit: str = ""
    whole: bool = False


@dataclass(frozen=True)
class Flag:
    """true or false."""


@dataclass(frozen=True)
class Enumerated:
    """One of the values of a string enumeration."""

    kind: type[StrEnum]


@dataclass(frozen=True)
class ListOf:
    """A list of one shape; ``is_set``: the order says nothing, it is written sorted."""

    item: Shape
    max_items: int = MAX_ITEMS
    is_set: bool = False


@dataclass(frozen=True)
class Row:
    """A short list with a fixed shape at each place."""

    items: tuple[Shape, ...]


@dataclass(frozen=True)
class TableOf:
    """A table with free keys."""

    key: Text
    item: Shape
    max_items: int = MAX_ITEMS


@dataclass(frozen=True)
class PairTable:
    """A mapping with two-part keys, written as a list of small tables."""

    columns: tuple[str, str, str]
    key: Text
    item: Number
    max_items: int = MAX_ITEMS


@dataclass(frozen=True)
class Record:
    """A dataclass, written as a table."""

    kind: Any


@dataclass(frozen=True)
class AnyStep:
    """A step of a plan: a table whose ``verb`` says which kind."""


Shape = (Text | Number | Flag | Enumerated | ListOf | Row | TableOf | PairTable | Record | AnyStep)


@dataclass(frozen=True)
class Entry:
    """One field: its attribute, the key it is written under, its shape, default and help.

    ``flat`` fields are written among the keys of the table that holds them.
    """

    attribute: str
    key: str
    shape: Shape
    default: Any
    nullable: bool
    help: str
    flat: bool = False

    @property
    def required(self) -> bool:
        """Whether the key must be there."""
        return self.default is dataclasses.MISSING


@cache
def entries(kind: Any) -> tuple[Entry, ...]:
    """The fields of a dataclass in the order they are written."""
    if issubclass(kind, Step):
        return _step_entries(kind)
    hints = typing.get_type_hints(kind)
    rules = RULES.get(kind, {})
    return tuple(_entry(f, hints[f.name], rules.get(f.name, Rule()))
                 for f in dataclasses.fields(kind))


def step_kind(verb: str) -> type[Step] | None:
    """The step kind with this verb."""
    return STEP_KINDS.get(verb)


def _entry(field: dataclasses.Field[Any], hint: Any, rule: Rule) -> Entry:
    bare, nullable = _without_none(hint)
    return Entry(field.name, rule.written or field.name, _shape(bare, rule), _default(field),
                 nullable, rule.help, rule.flat)


def _default(field: dataclasses.Field[Any]) -> Any:
    if field.default_factory is not dataclasses.MISSING:
        return field.default_factory()
    return field.default


def _without_none(hint: Any) -> tuple[Any, bool]:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        kept = [a for a in typing.get_args(hint) if a is not types.NoneType]
        return kept[0], True
    return hint, False


def _shape(hint: Any, rule: Rule) -> Shape:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple and arguments[-1] is Ellipsis:
        return ListOf(_shape(arguments[0], rule), rule.max_items)
    if origin is frozenset:
        return ListOf(_shape(arguments[0], rule), rule.max_items, is_set=True)
    if origin is tuple:
        return Row(tuple(_shape(a, rule) for a in arguments))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return _mapping(arguments[0], arguments[1], rule)
    return _single(hint, rule)


def _mapping(key: Any, value: Any, rule: Rule) -> Shape:
    if typing.get_origin(key) is tuple:
        columns = (rule.columns[0], rule.columns[1], rule.columns[2])
        return PairTable(columns, Text(FLASK_LENGTH, filled=True, lines=False),
                         Number(rule.low, rule.high, rule.unit), rule.max_items)
    keys = Text(2 * KEY_LENGTH, choices=rule.key_choices, role=rule.key_role, filled=True,
                lines=False)
    return TableOf(keys, _shape(value, rule), rule.max_items)


def _single(hint: Any, rule: Rule) -> Shape:
    if hint is Step:
        return AnyStep()
    if dataclasses.is_dataclass(hint):
        return Record(hint)
    if issubclass(hint, StrEnum):
        return Enumerated(hint)
    if hint is bool:
        return Flag()
    if hint in (int, float):
        return Number(rule.low, rule.high, rule.unit, whole=hint is int)
    return Text(rule.max_length, rule.choices, rule.role, rule.pattern, rule.says, rule.filled,
                rule.lines)


def _step_entries(kind: type[Step]) -> tuple[Entry, ...]:
    defaults = {f.name: _default(f) for f in dataclasses.fields(kind)}
    identity = Text(KEY_LENGTH, pattern=ID_PATTERN, filled=True, lines=False,
                    says="a name of letters, digits, - and _")
    first = Entry("id", "id", identity, dataclasses.MISSING, False,
                  "names the step within the plan; stays when the step is moved or edited")
    return (first, *(Entry(name, name, _step_shape(spec), defaults[name], False, _step_help(spec))
                     for name, spec in field_specs(kind).items()))


def _step_help(spec: FieldSpec) -> str:
    return f"{spec.label}. {spec.help}" if spec.help else spec.label


def _flask_says(spec: FieldSpec) -> str:
    new = "a flask, new or in use" if spec.produces else "a flask in use"
    return f'{new}, or "{WASTE}"' if spec.may_be_waste else new


def _step_shape(spec: FieldSpec) -> Shape:  # noqa: PLR0911 (one return a field kind)
    flask = Text(FLASK_LENGTH, filled=not spec.optional, lines=False, says=_flask_says(spec))
    match spec.kind:
        case FieldKind.FLASK:
            return flask
        case FieldKind.FLASKS:
            return ListOf(flask, max_items=20)
        case FieldKind.MATERIAL:
            return Text(KEY_LENGTH, role=spec.role, filled=not spec.optional, lines=False)
        case FieldKind.QUANTITY:
            return Number(spec.low, spec.high, spec.unit)
        case FieldKind.COUNT:
            return Number(spec.low, spec.high, whole=True)
        case FieldKind.CHOICE:
            return Text(KEY_LENGTH, choices=spec.choices)
        case FieldKind.FLAG:
            return Flag()
        case FieldKind.TEXT:
            return Text(NOTE_LENGTH)
