"""One field of the author form: where its value stands in the document, and how it is asked for."""

import re
from collections.abc import Mapping
from dataclasses import MISSING as NO_DEFAULT
from dataclasses import dataclass
from typing import Any

from workups.chemistry.fields import Declared
from workups.documents.errors import Path, dotted
from workups.documents.places import MISSING, value_at
from workups.documents.shapes import (
    Entry,
    Flag,
    ListOf,
    Number,
    Record,
    TableOf,
    Text,
    entries,
)
from workups.grading.exercise import Exercise
from workups.web.authoring.form.texts import Kind, normal, number_text, text_of_value

_LONG_TEXT = 1000
_UNSAFE = re.compile(r"[^A-Za-z0-9_]")


def anchor_of(path: Path) -> str:
    """A place of the document as an id in the page, no two alike: ``:`` is written ``.3a.``."""
    return "-".join(
        _UNSAFE.sub(lambda sign: f".{ord(sign[0]):x}.", str(word)) for word in path
    )


@dataclass(frozen=True)
class Asked:
    """A field: its path, description, label, and words for its choices."""

    path: Path
    entry: Entry
    label: str
    words: Mapping[str, str]

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
        if isinstance(shape, Flag):
            return [("yes", self.words.get("yes", "yes")), ("no", self.words.get("no", "no"))]
        assert isinstance(shape, Text)
        return [(c, self.words.get(c, c)) for c in shape.choices]

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

    @property
    def range_words(self) -> str:
        """The range of a number, as a hint: "0 to 1000"."""
        shape = self.entry.shape
        if not isinstance(shape, Number) or shape.low is None or shape.high is None:
            return ""
        return f"{number_text(shape.low)} to {number_text(shape.high)}"


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
    kind: Any = Exercise
    found: Entry | None = None
    for part in path:
        if isinstance(part, int):
            continue
        if isinstance(kind, TableOf):
            found, kind = _entry_of_item(kind, str(part)), kind.item
        else:
            found = unfolded(kind)[part]
            kind = found.shape
        kind = kind.item if isinstance(kind, ListOf) else kind
        kind = kind.kind if isinstance(kind, Record) else kind
    assert found is not None
    return found


def unfolded(kind: Any) -> dict[str, Entry]:
    """The entries of a dataclass by key, flat ones in the place of what holds them."""
    found: dict[str, Entry] = {}
    for entry in entries(kind):
        if entry.flat and isinstance(entry.shape, Record):
            found |= unfolded(entry.shape.kind)
        else:
            found[entry.key] = entry
    return found


def _entry_of_item(table: TableOf, key: str) -> Entry:
    return Entry(key, key, table.item, None, False, Declared())
