"""Shapes and values in words: for messages and for the printed schema."""

import dataclasses
from collections.abc import Mapping
from typing import Any

from .names import ROLE_TITLES
from .shapes import AnyStep, Enumerated, Flag, ListOf, Number, Record, Row, Shape, TableOf, Text


def describe(shape: Shape) -> str:  # noqa: PLR0911 (one return a shape)
    """A shape in words, as used after ``expected``."""
    match shape:
        case Text():
            return _describe_text(shape)
        case Number():
            return _describe_number(shape)
        case Flag():
            return "true or false"
        case Enumerated():
            return f"one of {', '.join(m.value for m in shape.kind)}"
        case ListOf():
            return f"a list, each {describe(shape.item)}"
        case Row():
            return "a list"
        case TableOf():
            names = ", ".join(shape.key.choices) or "names"
            return f"a table of {names}; each {describe(shape.item)}"
        case Record():
            return "a table"
        case AnyStep():
            return "a step"


def _describe_text(shape: Text) -> str:
    if shape.choices:
        return "one of " + ", ".join(c if c else "empty" for c in shape.choices)
    if shape.role:
        return ROLE_TITLES[shape.role]
    if shape.says:
        return shape.says
    return "a text" if shape.lines else "a text on one line"


def _describe_number(shape: Number) -> str:
    what = "a whole number" if shape.whole else "a number"
    unit = f" {shape.unit}" if shape.unit else ""
    if shape.low is not None and shape.high is not None:
        return f"{what} from {shape.low:g} to {shape.high:g}{unit}"
    if shape.low is not None:
        return f"{what} of at least {shape.low:g}{unit}"
    return f"{what} in{unit}" if unit else what


def value_text(value: Any) -> str:
    """A default as it would be written in a file; a table in short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"{value:g}"
    if isinstance(value, str):
        return f'"{value}"'
    if dataclasses.is_dataclass(value):
        fields = ((f.name, getattr(value, f.name)) for f in dataclasses.fields(value))
        return "{ " + ", ".join(f"{k} = {value_text(v)}" for k, v in fields) + " }"
    if isinstance(value, Mapping):
        inner = ", ".join(f"{k} = {value_text(v)}" for k, v in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    return "[" + ", ".join(value_text(v) for v in value) + "]"
