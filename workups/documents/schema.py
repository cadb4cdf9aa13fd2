"""The schema of the three documents, from the same description that reads and writes them."""

import inspect
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from workups.chemistry.fields import MAX_STEPS
from workups.chemistry.plan import STEP_KINDS, Plan
from workups.chemistry.readings import Readings
from workups.exercise.exercise import Exercise

from .limits import MAX_BYTES
from .shapes import (
    AnyStep,
    Entry,
    Flag,
    ListOf,
    Number,
    Record,
    Shape,
    TableOf,
    Text,
    entries,
    unfolded,
)
from .toml_text import VERSION
from .wording import describe, value_text

DOCUMENT_KINDS: Mapping[str, type] = {"exercise": Exercise, "plan": Plan, "readings": Readings}
_FOR_EXERCISE = ("exercise", "text", "",
                 "key of the exercise; where it is given it must be the right one")


@dataclass(frozen=True)
class KeyLine:
    """One key of a table: what its value is, the default (``required`` if none), its help."""

    key: str
    value: str
    default: str
    help: str


@dataclass(frozen=True)
class TableSchema:
    """One table of a document: its header as written, what it is, its keys."""

    header: str
    about: str
    keys: tuple[KeyLine, ...]


def document_schema(document: str) -> tuple[TableSchema, ...]:
    """The tables of a document in reading order; the kinds of step come last."""
    head: tuple[KeyLine, ...] = (
        KeyLine("document", f'"{document}"', "required", "which of the three documents"),
        KeyLine("version", str(VERSION), "required", "version of the format"))
    if document != "exercise":
        head = (*head, KeyLine(*_FOR_EXERCISE))
    kind = DOCUMENT_KINDS[document]
    tables = _tables(kind, "", "", _about(kind), head)
    return (*tables, *(_step_table(verb) for verb in STEP_KINDS))


def _tables(kind: Any, path: str, header: str, about: str,
            head: tuple[KeyLine, ...] = ()) -> Iterator[TableSchema]:
    keys, inner = list(head), []
    for entry in unfolded(kind).values():
        child = f"{path}.{entry.key}" if path else entry.key
        nested = _nested(entry.shape, child)
        if nested is None:
            keys.append(_key_line(entry))
        else:
            inner.append((*nested, entry))
    yield TableSchema(header, about, tuple(keys))
    for inner_header, inner_path, inner_kind, entry in inner:
        if inner_kind is AnyStep:
            yield TableSchema(inner_header, f"{entry.help}, at most {MAX_STEPS}. "
                              "The keys depend on the verb: see the kinds of step below.", ())
        else:
            yield from _tables(inner_kind, inner_path, inner_header, f"{entry.help}.")


def _nested(shape: Shape, path: str) -> tuple[str, str, Any] | None:
    """Header, path and kind of a table of its own, None for a plain key."""
    match shape:
        case Record():
            return f"[{path}]", path, shape.kind
        case ListOf(item=Record() as item):
            return f"[[{path}]]", path, item.kind
        case ListOf(item=AnyStep()):
            return f"[[{path}]]", path, AnyStep
        case TableOf(item=Record() as item):
            return f"[{path}.NAME]", f"{path}.NAME", item.kind
    return None


def _key_line(entry: Entry) -> KeyLine:
    return KeyLine(entry.key, describe(entry.shape), _default_text(entry), entry.help)


def _default_text(entry: Entry) -> str:
    if entry.required:
        return "required"
    return "" if entry.default is None else value_text(entry.default)


def _step_table(verb: str) -> TableSchema:
    kind: Any = STEP_KINDS[verb]
    keys = (KeyLine("verb", f'"{verb}"', "required", ""), *map(_key_line, entries(kind)))
    return TableSchema(f'step with verb = "{verb}"', _about(kind), keys)


def _about(kind: Any) -> str:
    return (inspect.getdoc(kind) or "").split("\n\n", 1)[0].replace("\n", " ").replace("``", "")


def json_schema(document: str) -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a document as the plain data of its TOML."""
    definitions: dict[str, Any] = {}
    for verb in STEP_KINDS:
        kind: Any = STEP_KINDS[verb]
        definitions[f"step-{verb}"] = _object(
            kind, definitions, {"verb": {"const": verb}}, required=["verb"], closed=False)
    head: dict[str, Any] = {"document": {"const": document}, "version": {"const": VERSION}}
    if document != "exercise":
        head["exercise"] = {"type": "string", "description": _FOR_EXERCISE[3]}
    body = _object(DOCUMENT_KINDS[document], definitions, head, required=["document", "version"])
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"Labcourse {document}, version {VERSION}",
        **body,
        "description": f"{body['description']} At most {MAX_BYTES // 1000} kB of TOML.",
        "$defs": definitions,
    }


def _object(kind: Any, definitions: dict[str, Any], head: Mapping[str, Any],
            required: list[str], closed: bool = True) -> dict[str, Any]:
    written = unfolded(kind)
    properties = {**head, **{k: _described(e, definitions) for k, e in written.items()}}
    needed = [*required, *(k for k, e in written.items() if e.required and not e.nullable)]
    schema: dict[str, Any] = {"type": "object", "description": _about(kind),
                              "properties": properties}
    if needed:
        schema["required"] = needed
    if any(e.flat and isinstance(e.shape, AnyStep) for e in entries(kind)):
        schema["oneOf"] = _any_step()["oneOf"]
    if closed:
        schema["unevaluatedProperties"] = False
    return schema


def _described(entry: Entry, definitions: dict[str, Any]) -> dict[str, Any]:
    schema = _json(entry.shape, definitions)
    return {"description": entry.help, **schema} if entry.help else schema


def _any_step() -> dict[str, Any]:
    return {"oneOf": [{"$ref": f"#/$defs/step-{verb}"} for verb in STEP_KINDS],
            "unevaluatedProperties": False}


def _json(shape: Shape, definitions: dict[str, Any]) -> dict[str, Any]:
    match shape:
        case Record():
            return _reference(shape.kind, definitions)
        case AnyStep():
            return _any_step()
        case ListOf():
            return {"type": "array", "maxItems": shape.max_items,
                    "items": _json(shape.item, definitions)}
        case TableOf():
            return _json_table(shape, definitions)
        case _:
            return _json_plain(shape)


def _json_plain(shape: Shape) -> dict[str, Any]:
    if isinstance(shape, Flag):
        return {"type": "boolean"}
    if isinstance(shape, Number):
        limits = {"minimum": shape.low, "maximum": shape.high}
        kept = {k: v for k, v in limits.items() if v is not None}
        return {"type": "integer" if shape.whole else "number", **kept}
    assert isinstance(shape, Text)
    return _json_text(shape)


def _json_text(shape: Text) -> dict[str, Any]:
    if shape.choices:
        return {"enum": list(shape.choices)}
    schema: dict[str, Any] = {"type": "string", "maxLength": shape.max_length}
    if shape.filled:
        schema["minLength"] = 1
    if shape.pattern:
        schema["pattern"] = f"^({shape.pattern})$"
    return schema


def _json_table(shape: TableOf, definitions: dict[str, Any]) -> dict[str, Any]:
    schema: dict[str, Any] = {"type": "object", "maxProperties": shape.max_items,
                              "additionalProperties": _json(shape.item, definitions)}
    if shape.key.choices:
        schema["propertyNames"] = {"enum": list(shape.key.choices)}
    return schema


def _reference(kind: Any, definitions: dict[str, Any]) -> dict[str, Any]:
    if kind.__name__ not in definitions:
        definitions[kind.__name__] = {}
        definitions[kind.__name__] = _object(kind, definitions, {}, required=[])
    return {"$ref": f"#/$defs/{kind.__name__}"}
