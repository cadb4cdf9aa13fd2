"""Values of a document as the text of a form field, and typed text as values.

What is typed is kept whatever it is: a text that is no number stays a text, and the document's
own check says what is wrong with it.
"""

import math
import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any

from workups.documents.pointers import MISSING
from workups.web.authoring.form.names import key_of, name_of

_NUMBER = re.compile(r"[-+]?(\d{1,15}([.,]\d{0,15})?|[.,]\d{1,15})([eE][-+]?\d{1,2})?")
_PAIR = re.compile(r"(?P<name>.*?)\s*[:=]\s*(?P<amount>[^:=]*)")
_EXACT = 1e15
YES, NO = "yes", "no"


class Kind(StrEnum):
    """How a value is asked for."""

    LINE = "line"
    PROSE = "prose"
    LINES = "lines"
    NUMBER = "number"
    CHOICE = "choice"
    FLAG = "flag"
    AMOUNTS = "amounts"
    SUBSTANCE = "substance"
    MATERIALS = "materials"


def number_text(value: Any) -> str:
    """A number with all its digits and no exponent; anything else as it stands."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return _plain_text(value)
    if not math.isfinite(value) or abs(value) > _EXACT:
        return str(value)
    text = f"{Decimal(repr(value)):f}"
    return text[:-2] if text.endswith(".0") else text


def read_number(text: str) -> Any:
    """The number that was typed, with a comma or a point; the text where it is none."""
    typed = text.strip().replace("\u2212", "-").replace("\u00a0", "")
    if not _NUMBER.fullmatch(typed):
        return text.strip()
    number = float(typed.replace(",", "."))
    return int(number) if number.is_integer() and abs(number) < _EXACT else number


def _plain_text(value: Any) -> str:
    if isinstance(value, bool):
        return YES if value else NO
    if isinstance(value, dict):
        return ", ".join(f"{k} = {v}" for k, v in value.items())
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _lines_text(value: Any) -> str:
    if not isinstance(value, list):
        return _plain_text(value)
    return "\n".join(" ".join(str(item).split("\n")) for item in value)


def _amounts_text(value: Any, data: Any = None) -> str:
    if not isinstance(value, dict):
        return _plain_text(value)
    return "\n".join(f"{name_of(str(key), data)}: {number_text(v)}" for key, v in value.items())


def _substance_text(value: Any, data: Any = None) -> str:
    return name_of(value, data) if isinstance(value, str) else _plain_text(value)


def _flag_text(value: Any) -> str:
    return _plain_text(value)


_TEXTS: Mapping[Kind, Callable[[Any], str]] = {
    Kind.LINE: _plain_text,
    Kind.PROSE: _plain_text,
    Kind.LINES: _lines_text,
    Kind.NUMBER: number_text,
    Kind.CHOICE: _plain_text,
    Kind.FLAG: _flag_text,
}
_NAMED_TEXTS: Mapping[Kind, Callable[[Any, Any], str]] = {
    Kind.AMOUNTS: _amounts_text,
    Kind.SUBSTANCE: _substance_text,
}


def text_of_value(kind: Kind, value: Any, data: Any = None) -> str:
    """A value as it stands in its field; empty where there is none. ``data``: the document."""
    if value is MISSING or value is None:
        return ""
    named = _NAMED_TEXTS.get(kind)
    return named(value, data) if named else _TEXTS[kind](value)


def normal(kind: Kind, text: str) -> str:
    """Typed text without what a browser adds or drops."""
    unified = text.replace("\r\n", "\n").replace("\r", "\n")
    if kind in (Kind.PROSE, Kind.LINES, Kind.AMOUNTS):
        return unified
    return " ".join(unified.split("\n")).strip()


def _read_prose(text: str) -> Any:
    return text if text.strip() else MISSING


def _read_lines(text: str) -> Any:
    return [line.strip() for line in text.split("\n") if line.strip()] or MISSING


def _read_amounts(text: str, data: Any = None) -> Any:
    pairs = {}
    for line in filter(str.strip, text.split("\n")):
        found = _PAIR.fullmatch(line.strip())
        name, amount = (found["name"], found["amount"]) if found else (line, "")
        pairs[key_of(name, data)] = read_number(amount)
    return pairs or MISSING


def _read_flag(text: str) -> Any:
    return {YES: True, NO: False}.get(text, text)


_READERS: Mapping[Kind, Callable[[str], Any]] = {
    Kind.LINE: str,
    Kind.PROSE: _read_prose,
    Kind.LINES: _read_lines,
    Kind.NUMBER: read_number,
    Kind.CHOICE: str,
    Kind.FLAG: _read_flag,
}


_NAMED_READERS: Mapping[Kind, Callable[[str, Any], Any]] = {
    Kind.AMOUNTS: _read_amounts,
    Kind.SUBSTANCE: key_of,
}


def value_of_text(kind: Kind, text: str, data: Any = None) -> Any:
    """The value of what was typed; MISSING where nothing was. ``data``: the document."""
    typed = normal(kind, text)
    if not typed.strip():
        return MISSING
    named = _NAMED_READERS.get(kind)
    return named(typed, data) if named else _READERS[kind](typed)
