"""New data into an old text: what did not change keeps its comments, order and spelling.

A person who writes a document as text and another who fills in a form change the same text. So
the form does not write the document anew: it changes the values that differ and leaves all else.
"""

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from .errors import DocumentError
from .toml_text import parse, plain_data, write_data

_LONG_LINE = 80
# Documents by the text that they were written as: who changes one field changes the next, and to
# read a text for its editor takes longer than all else that saving does.
_written: dict[str, tomlkit.TOMLDocument] = {}
_MOST_REMEMBERED = 8  # of 1 MB each, 11 MB at most


def rewrite(text: str, data: Mapping[str, Any]) -> str:
    """The text changed as little as gives ``data``; the same text where nothing differs.

    Raises DocumentError where the old text is not TOML.
    """
    wanted = plain_data(dict(data))
    if same(parse(text), wanted):
        return text
    try:
        document = _written.pop(text, None) or tomlkit.parse(text)
        _merge(document, wanted)
        changed = tomlkit.dumps(document)
        if same(parse(changed), wanted):
            _written[changed] = document
            for oldest in list(_written)[:-_MOST_REMEMBERED]:
                _written.pop(oldest, None)
            return changed
    except (TOMLKitError, DocumentError, TypeError, ValueError, KeyError, IndexError,
            AttributeError, RecursionError):
        pass  # whatever the text does that its editor cannot follow: it is written anew
    return write_data(wanted)


def same(one: Any, other: Any) -> bool:
    """Whether two pieces of plain data say the same: 1 and 1.0 do, 1 and true do not.

    The order of the keys of a table says nothing.
    """
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(same(one[k], other[k]) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return bool(one == other)


def _merge(table: Any, wanted: Mapping[str, Any]) -> None:
    for key in [k for k in table if k not in wanted]:
        del table[key]
    for key, value in wanted.items():
        if key not in table:
            table[key] = _as_typed(value)
        elif not same(_plain(table[key]), value):
            _replace(table, key, value)


def _replace(table: Any, key: str, value: Any) -> None:
    old = table[key]
    if isinstance(old, dict) and isinstance(value, dict):
        _merge(old, value)
    elif isinstance(old, AoT) and isinstance(value, list) and all(map(_is_table, value)) and value:
        _merge_tables(old, value)
    else:
        table[key] = _as_typed(value)


def _as_typed(value: Any) -> Any:
    """A value in the way a person would write it: long texts and lists on lines of their own."""
    if isinstance(value, str) and "\n" in value and "\r" not in value:
        quoted = tomlkit.string(value, multiline=True).as_string()
        return tomlkit.value(f'"""\n{quoted[3:]}') if value[0] != "\n" else tomlkit.value(quoted)
    if isinstance(value, list) and value and all(isinstance(v, str) for v in value):
        array = tomlkit.array()
        array.extend(value)
        return array.multiline(len(value) * 4 + sum(map(len, value)) > _LONG_LINE)
    return value


def _is_table(value: Any) -> bool:
    return isinstance(value, dict)


def _merge_tables(old: AoT, wanted: list[dict[str, Any]]) -> None:
    """Items alike at both ends stay as they stand; those between are changed one for one."""
    before = [_plain(item) for item in old]
    shorter = min(len(before), len(wanted))
    head = 0
    while head < shorter and same(before[head], wanted[head]):
        head += 1
    tail = 0
    while tail < shorter - head and same(before[-1 - tail], wanted[-1 - tail]):
        tail += 1
    middle = wanted[head : len(wanted) - tail]
    for _ in range(len(before) - len(wanted)):
        del old[head + len(middle)]
    for at, value in enumerate(middle, head):
        if at < len(before) - tail and at < len(old) - tail:
            _merge(old[at], value)
        else:
            old.insert(at, _table_of(value))


def _table_of(value: Mapping[str, Any]) -> Any:
    table = tomlkit.table()
    for key, inner in value.items():
        table[key] = _as_typed(inner)
    return table


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value
