"""What a document holds, derived from the dataclasses: one description for reading, writing
and the printed schema.

Every field of a dataclass becomes an ``Entry`` with a ``Shape``, from its type and what it
declares of itself (``chemistry/fields.py``).
"""

from __future__ import annotations

import dataclasses
import types
import typing
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from workups.chemistry.fields import KEY_LENGTH, MAX_ITEMS, NOTE_LENGTH, Declared, of_field
from workups.chemistry.plan import FieldSpec, Step, field_specs


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
class Record:
    """A dataclass, written as a table."""

    kind: Any


@dataclass(frozen=True)
class AnyStep:
    """A step of a plan: a table whose ``verb`` says which kind."""


Shape = (Text | Number | Flag | Enumerated | ListOf | Row | TableOf | Record | AnyStep)


@dataclass(frozen=True)
class Entry:
    """One field: its attribute, the key it is written under, its shape and default, and what it
    declares of itself."""

    attribute: str
    key: str
    shape: Shape
    default: Any
    nullable: bool
    spec: Declared

    @property
    def flat(self) -> bool:
        """Whether it is written among the keys of the table that holds it."""
        return self.spec.flat

    @property
    def help(self) -> str:
        """What the key is, for the schema."""
        spec = self.spec
        if not isinstance(spec, FieldSpec):
            return spec.help
        return f"{spec.label}. {spec.help}" if spec.help else spec.label

    @property
    def required(self) -> bool:
        """Whether the key must be there."""
        return self.default is dataclasses.MISSING


@cache
def entries(kind: Any) -> tuple[Entry, ...]:
    """The fields of a dataclass in the order they are written."""
    hints = typing.get_type_hints(kind)
    by_name = {f.name: _entry(f, hints[f.name]) for f in dataclasses.fields(kind)}
    order = ("id", *field_specs(kind)) if issubclass(kind, Step) else by_name
    return tuple(by_name[name] for name in order)


@cache
def unfolded(kind: Any) -> Mapping[str, Entry]:
    """The entries of a dataclass by key, flat ones in the place of what holds them."""
    found: dict[str, Entry] = {}
    for entry in entries(kind):
        if entry.flat and isinstance(entry.shape, Record):
            found |= unfolded(entry.shape.kind)
        elif not entry.flat:
            found[entry.key] = entry
    return found


def unfolded_values(value: Any) -> Iterator[tuple[Entry, Any]]:
    """The entries of a dataclass with their values, flat ones in the place of what holds them."""
    kind: Any = type(value)
    for entry in entries(kind):
        inner = getattr(value, entry.attribute)
        if entry.flat:
            yield from unfolded_values(inner)
        else:
            yield entry, inner


def _entry(field: dataclasses.Field[Any], hint: Any) -> Entry:
    spec = of_field(field)
    bare, nullable = _without_none(hint)
    return Entry(field.name, spec.written or field.name, _shape(bare, spec), _default(field),
                 nullable, spec)


def _default(field: dataclasses.Field[Any]) -> Any:
    if field.default_factory is not dataclasses.MISSING:
        return field.default_factory()
    return field.default


def _without_none(hint: Any) -> tuple[Any, bool]:
    if typing.get_origin(hint) in (types.UnionType, typing.Union):
        kept = [a for a in typing.get_args(hint) if a is not types.NoneType]
        return kept[0], True
    return hint, False


def _shape(hint: Any, spec: Declared) -> Shape:
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin is tuple and arguments[-1] is Ellipsis:
        return ListOf(_shape(arguments[0], spec), spec.max_items)
    if origin is frozenset:
        return ListOf(_shape(arguments[0], spec), spec.max_items, is_set=True)
    if origin is tuple:
        return Row(tuple(_shape(a, spec) for a in arguments))
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return _table(arguments[1], spec)
    return _single(hint, spec)


def _table(value: Any, spec: Declared) -> Shape:
    keys = Text(2 * KEY_LENGTH, choices=tuple(spec.key_choices or ()), role=spec.key_role,
                filled=True, lines=False)
    return TableOf(keys, _shape(value, spec), spec.max_items)


def _single(hint: Any, spec: Declared) -> Shape:
    if hint is Step:
        return AnyStep()
    if dataclasses.is_dataclass(hint):
        return Record(hint)
    if issubclass(hint, StrEnum):
        return Enumerated(hint)
    if hint is bool:
        return Flag()
    if hint in (int, float):
        return Number(spec.low, spec.high, spec.unit, whole=hint is int)
    return Text(spec.max_length, spec.choices, spec.role, spec.pattern, spec.says, spec.filled,
                spec.lines)
