"""Dataclasses to plain data: dicts, lists, strings, numbers and booleans."""

import math
from typing import Any

from workups.chemistry.plan import Step

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


def encode_record(value: Any, every_key: bool = False) -> dict[str, Any]:
    """A dataclass as a dict.

    Left out, unless ``every_key``: what is None, and what is empty where empty is the default.
    Raises ValueError for a number that is not finite.
    """
    data: dict[str, Any] = {"verb": value.verb} if isinstance(value, Step) else {}
    kind: Any = type(value)
    for entry in entries(kind):
        inner = getattr(value, entry.attribute)
        if entry.flat:
            data.update(encode_record(inner, every_key))
        elif every_key or not _left_out(entry, inner):
            data[entry.key] = None if inner is None else encode(entry.shape, inner, every_key)
    return data


def _left_out(entry: Entry, value: Any) -> bool:
    if value is None:
        return True
    return not entry.required and _is_empty(value) and _is_empty(entry.default)


def _is_empty(value: Any) -> bool:
    return value is None or (hasattr(value, "__len__") and len(value) == 0)


def encode(  # noqa: PLR0911 (one return a shape)
        shape: Shape, value: Any, every_key: bool = False) -> Any:
    """A value of a shape as plain data."""
    match shape:
        case Record() | AnyStep():
            return encode_record(value, every_key)
        case ListOf():
            items = sorted(value) if shape.is_set else value
            return [encode(shape.item, v, every_key) for v in items]
        case Row():
            return [encode(s, v, every_key) for s, v in zip(shape.items, value, strict=True)]
        case TableOf():
            return {str(k): encode(shape.item, v, every_key) for k, v in value.items()}
        case Number():
            return int(value) if shape.whole else _finite(value)
        case Flag():
            return bool(value)
        case Text() | Enumerated():
            return str(value)


def _finite(value: Any) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    return number
