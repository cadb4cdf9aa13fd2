"""Plain data to dataclasses, collecting every problem on the way."""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Final

from workups.chemistry.fields import within
from workups.chemistry.plan import STEP_KINDS, PlanError, Step

from .errors import Path, shown
from .limits import MAX_PROBLEMS
from .names import ROLE_TITLES, KnownNames, hint, nearest
from .record_checks import RECORD_CHECKS
from .shapes import (
    AnyStep,
    Entry,
    Enumerated,
    Flag,
    ListOf,
    Number,
    Record,
    Row,
    Shape,
    TableOf,
    Text,
    entries,
)
from .wording import describe


class _Bad:
    """Stands for a value that could not be read; its problem is already noted."""


BAD: Final = _Bad()
_MOST_ITEMS_STORED = 100_000


@dataclass
class Decoder:
    """Reads plain data of one document.

    ``names`` switches on the check of substance and material names. ``trusted`` data comes from
    our own storage: types are checked, ranges and lengths are not.
    """

    names: KnownNames | None = None
    trusted: bool = False
    problems: list[tuple[Path, str]] = field(default_factory=list)
    _missing: set[Path] = field(default_factory=set)
    _misspelt: set[Path] = field(default_factory=set)

    def found(self) -> list[tuple[Path, str]]:
        """The problems; a key that is only misspelt is not reported as missing too."""
        twice = self._missing & self._misspelt
        return [(path, message) for path, message in self.problems if path not in twice]

    def note(self, path: Path, message: str) -> _Bad:
        """Remember a problem."""
        if len(self.problems) < MAX_PROBLEMS:
            self.problems.append((path, message))
        return BAD

    def expected(self, path: Path, what: str, found: object) -> _Bad:
        """Remember that something else was expected."""
        return self.note(path, f"expected {what}, found {shown(found)}")

    def record(self, kind: type, value: Any, path: Path, also: Iterable[str] = ()) -> Any:
        """A dataclass from a table; ``also`` are keys of the table that others read."""
        if not isinstance(value, dict):
            return self.expected(path, "a table", value)
        mine = entries(kind)
        others = {*also, *(("verb",) if issubclass(kind, Step) else ())}
        keys = {e.key for e in mine if not e.flat}
        arguments = {e.attribute: self._field(e, value, path, keys | others) for e in mine}
        if not any(e.flat for e in mine):
            self._unknown_keys(value, keys | others, path)
        if any(argument is BAD for argument in arguments.values()):
            return BAD
        return self._built(kind, arguments, path)

    def _field(self, entry: Entry, table: dict[str, Any], path: Path, taken: set[str]) -> Any:
        if entry.flat:
            return self.read(entry.shape, table, path, taken)
        here = (*path, entry.key)
        value = table.get(entry.key)
        if value is None:
            if entry.required and not entry.nullable:
                self._missing.add(here)
                return self.note(here, f"is missing: expected {describe(entry.shape)}")
            return None if entry.required or entry.nullable else entry.default
        return self.read(entry.shape, value, here)

    def _unknown_keys(self, table: dict[str, Any], keys: set[str], path: Path) -> None:
        unknown = [key for key in table if key not in keys]
        for key in unknown[:MAX_PROBLEMS]:
            self._misspelt.add((*path, nearest(key, keys - table.keys())))
            self.note((*path, key), f"is not a key that belongs here{hint(key, keys)}")

    def _built(self, kind: type, arguments: dict[str, Any], path: Path) -> Any:
        try:
            built = kind(**arguments)
        except (ValueError, PlanError) as error:
            return self.note(path, str(error))
        if self.trusted:
            return built
        found = list(RECORD_CHECKS[kind](built, self.names)) if kind in RECORD_CHECKS else []
        for inner, message in found:
            self.note((*path, *inner), message)
        return BAD if found else built

    def read(  # noqa: PLR0911 (one return a shape)
            self, shape: Shape, value: Any, path: Path, also: Iterable[str] = ()) -> Any:
        """A value of a shape, or BAD with its problems noted."""
        match shape:
            case Record():
                return self.record(shape.kind, value, path, also)
            case AnyStep():
                return self.step(value, path, also)
            case Text():
                return self._text(shape, value, path)
            case Enumerated():
                return self._enumerated(shape, value, path)
            case Number():
                return self._number(shape, value, path)
            case Flag():
                return value if isinstance(value, bool) else self.expected(
                    path, "true or false", value)
            case ListOf():
                return self._list(shape, value, path)
            case Row():
                return self._row(shape, value, path)
            case TableOf():
                return self._table(shape, value, path)

    def step(self, value: Any, path: Path, also: Iterable[str] = ()) -> Any:
        """A step, its kind told by ``verb``."""
        if not isinstance(value, dict):
            return self.expected(path, "a table with a verb", value)
        verb = value.get("verb")
        if not isinstance(verb, str) or verb not in STEP_KINDS:
            verbs = ", ".join(STEP_KINDS)
            if verb is None:
                return self.note((*path, "verb"), f"is missing: expected one of {verbs}")
            close = hint(verb, STEP_KINDS) if isinstance(verb, str) else ""
            return self.note((*path, "verb"),
                             f"expected one of {verbs}, found {shown(verb)}{close}")
        return self.record(STEP_KINDS[verb], value, path, also)

    def _enumerated(self, shape: Enumerated, value: Any, path: Path) -> Any:
        allowed = [member.value for member in shape.kind]
        if isinstance(value, str) and value in allowed:
            return shape.kind(value)
        return self.expected(path, f"one of {', '.join(allowed)}", value)

    def _text(self, shape: Text, value: Any, path: Path) -> Any:
        if not isinstance(value, str):
            return self.expected(path, describe(shape), value)
        if self.trusted:
            return value
        if shape.choices and value not in shape.choices:
            return self.note(path, f"expected {describe(shape)}, found {shown(value)}"
                                   f"{hint(value, shape.choices)}")
        complaint = _complaint(shape, value)
        if complaint:
            return self.note(path, complaint)
        return self._named(shape, value, path)

    def _named(self, shape: Text, value: str, path: Path) -> Any:
        if not shape.role or not value or self.names is None:
            return value
        allowed = self.names.of_role(shape.role)
        if value in allowed:
            return value
        return self.note(path, f"expected {ROLE_TITLES[shape.role]}, found {shown(value)}"
                               f"{hint(value, allowed)}")

    def _number(self, shape: Number, value: Any, path: Path) -> Any:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return self.expected(path, describe(shape), value)
        if shape.whole and (isinstance(value, float) and not value.is_integer()):
            return self.expected(path, describe(shape), value)
        if isinstance(value, float) and not math.isfinite(value):
            return self.expected(path, describe(shape), value)
        if not self.trusted and not within(value, shape.low, shape.high):
            return self.expected(path, describe(shape), value)
        try:
            return int(value) if shape.whole else float(value)
        except OverflowError:
            return self.expected(path, describe(shape), value)

    def _sized(self, value: Any, kind: type, max_items: int, what: str, path: Path) -> bool:
        if not isinstance(value, kind):
            self.expected(path, what, value)
            return False
        most = _MOST_ITEMS_STORED if self.trusted else max_items
        if len(value) > most:  # type: ignore[arg-type]
            self.note(path, f"expected at most {most} items, found {len(value)}")  # type: ignore[arg-type]
            return False
        return True

    def _list(self, shape: ListOf, value: Any, path: Path) -> Any:
        if not self._sized(value, list, shape.max_items, describe(shape), path):
            return BAD
        items = [self.read(shape.item, v, (*path, i)) for i, v in enumerate(value, 1)]
        if any(item is BAD for item in items):
            return BAD
        return frozenset(items) if shape.is_set else tuple(items)

    def _row(self, shape: Row, value: Any, path: Path) -> Any:
        if not isinstance(value, list) or len(value) != len(shape.items):
            return self.expected(path, f"a list of {len(shape.items)}", value)
        items = [self.read(s, v, (*path, i))
                 for i, (s, v) in enumerate(zip(shape.items, value, strict=True), 1)]
        return BAD if any(item is BAD for item in items) else tuple(items)

    def _table(self, shape: TableOf, value: Any, path: Path) -> Any:
        if not self._sized(value, dict, shape.max_items, "a table", path):
            return BAD
        keys = [self._text(shape.key, k, (*path, str(k))) for k in value]
        items = [self.read(shape.item, v, (*path, str(k))) for k, v in value.items()]
        bad = any(part is BAD for part in (*keys, *items))
        return BAD if bad else dict(zip(keys, items, strict=True))


_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def _complaint(shape: Text, value: str) -> str:
    if len(value) > shape.max_length:
        return f"expected at most {shape.max_length} characters, found {len(value)}"
    if _CONTROL.search(value) or (not shape.lines and re.search(r"[\n\r\t]", value)):
        return "expected plain text" + ("" if shape.lines else " on one line") + (
            f", found a control character in {shown(value)}")
    if shape.filled and not value.strip():
        return f"expected {describe(shape)}, found nothing"
    if shape.pattern and not re.fullmatch(shape.pattern, value):
        return f"expected {describe(shape)}, found {shown(value)}"
    if not shape.lines and value != value.strip():
        return f"expected no space at the beginning or end, found {shown(value)}"
    return ""
