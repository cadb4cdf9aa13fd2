"""One field of the author form: where its value stands in the document, and how it is asked for."""

import re
from collections.abc import Mapping
from dataclasses import MISSING as NO_DEFAULT
from dataclasses import dataclass, replace
from typing import Any

from workups.chemistry.fields import Declared
from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import PROPERTIES
from workups.documents.errors import Path, dotted
from workups.documents.pointers import MISSING, value_at
from workups.documents.shapes import Entry, Flag, ListOf, Number, Record, TableOf, Text, unfolded
from workups.exercise.exercise import Exercise
from workups.web.authoring.form.texts import Kind, normal, text_of_value

_LONG_TEXT = 1000
_UNITS = {"C": "°C", "1": ""}
_UNSAFE = re.compile(r"[^A-Za-z0-9_]")


def anchor_of(path: Path) -> str:
    """A place of the document as an id in the page, no two alike: ``:`` is written ``.3a.``."""
    return "-".join(_UNSAFE.sub(lambda sign: f".{ord(sign[0]):x}.", str(word)) for word in path)


@dataclass(frozen=True)
class Asked:
    """A field: its path, description and label."""

    path: Path
    entry: Entry
    label: str

    @property
    def name(self) -> str:
        """The name of the control."""
        return anchor_of(self.path)

    @property
    def where(self) -> str:
        """The place as a problem of the document names it."""
        return dotted(self.path)

    @property
    def kind(self) -> Kind:
        return Kind.SUBSTANCE if self.entry.key == "substance" else kind_of(self.entry.shape)

    @property
    def unit(self) -> str:
        shape = self.entry.shape
        return shape.unit if isinstance(shape, Number) else ""

    @property
    def choices(self) -> list[tuple[str, str]]:
        shape = self.entry.shape
        values = ("yes", "no") if isinstance(shape, Flag) else getattr(shape, "choices", ())
        words = self.entry.spec.words or {}
        return [(value, words.get(value, value)) for value in values]

    @property
    def help(self) -> str:
        """What stands beside the field."""
        spec = self.entry.spec
        if spec.hint is not None:
            return spec.hint
        if self.kind is Kind.SUBSTANCE:
            return "Name, CAS number or SMILES."
        told = spec.help and self.kind is not Kind.CHOICE
        return f"{spec.help[:1].upper()}{spec.help[1:]}." if told else ""

    def text_in(self, data: Any) -> str:
        """What the field shows: what stands in the document, else what holds without it."""
        value = value_at(data, self.path)
        if value is MISSING:
            value = self.default_in(data)
        return text_of_value(self.kind, value, data)

    def default_in(self, data: Any) -> Any:
        """The value that holds where the document says nothing."""
        table = self.table_default(data)
        if table is not None:
            return table.get(self.path[-1], MISSING)
        return MISSING if self.entry.default is NO_DEFAULT else self.entry.default

    def table_default(self, data: Any) -> Mapping[Any, Any] | None:
        """Of a value with a key of its own: the whole table that holds where there is none."""
        if len(self.path) < 2 or value_at(data, self.path[:-1]) is not MISSING:
            return None
        around = entry_at(self.path[:-1])
        return around.default if isinstance(around.shape, TableOf) else None

    def is_changed(self, data: Any, typed: str) -> bool:
        return normal(self.kind, typed) != normal(self.kind, self.text_in(data))


def kind_of(shape: Any) -> Kind:  # noqa: PLR0911 (one return a shape)
    match shape:
        case Number():
            return Kind.NUMBER
        case Flag():
            return Kind.FLAG
        case TableOf():
            return Kind.AMOUNTS
        case ListOf(item=Text(role="material")):
            return Kind.MATERIALS
        case ListOf():
            return Kind.LINES
        case Text() if shape.choices:
            return Kind.CHOICE
        case Text() if shape.role in ("substance", "reagent", "component"):
            return Kind.SUBSTANCE
        case Text() if shape.lines and shape.max_length >= _LONG_TEXT:
            return Kind.PROSE
    return Kind.LINE


def entry_at(path: Path) -> Entry:
    """The description of the value at a path of an exercise file; KeyError where none may stand."""
    shape: Any = Record(Exercise)
    found: Entry | None = None
    for part in path:
        if isinstance(part, int):
            continue
        if isinstance(shape, TableOf):
            assert found is not None
            found = _item_of(found, shape, str(part))
        else:
            found = unfolded(shape.kind)[part]
        shape = found.shape.item if isinstance(found.shape, ListOf) else found.shape
    assert found is not None
    return found


def _item_of(around: Entry, table: TableOf, key: str) -> Entry:
    """One value of a table with keys of its own, called by the title of its key if that has one."""
    title = (around.spec.key_choices or {}).get(key, "")
    label = title if title.startswith("pKa") else f"{title[:1].upper()}{title[1:]}"
    spec = Declared(label, hint=around.spec.hint)
    return Entry(key, key, table.item, None, False, spec)


def asked_for(path: Path) -> Asked:
    """The field for a path; of a constant it is called what it is the constant of."""
    entry = entry_at(path)
    of_constant = isinstance(path[-2] if len(path) > 1 else 0, str) and (
        entry_at(path[:-1]).shape == Record(Quantity))
    return _of_constant(path, entry) if of_constant else Asked(path, entry, entry.spec.label)


def _of_constant(path: Path, entry: Entry) -> Asked:
    constant = entry_at(path[:-1]).spec
    known = PROPERTIES.get(str(path[-2]))
    label = entry.spec.label
    if constant.label and entry.key == "value":
        unit = _UNITS.get(known.unit, known.unit) if known else ""
        entry = replace(entry, spec=replace(entry.spec, hint=constant.hint or ""))
        return Asked(path, entry, f"{constant.label}, {unit}" if unit else constant.label)
    return Asked(path, entry, f"{constant.label}: {label.lower()}" if known else label)
