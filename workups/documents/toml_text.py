"""TOML text to plain data and back, with limits and one kind of error."""

import copy
import re
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path as FilePath
from typing import Any

import tomli_w

from .errors import DocumentError, Path, Problem, dotted, shown, single_problem
from .limits import MAX_BYTES
from .lines import key_lines, line_of

VERSION = 1
_EXACT = 1e15
_MOST_BITS = 63

_AT_LINE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


def read_text(path: FilePath) -> str:
    """The text of a file; raises DocumentError where it cannot be a document."""
    try:
        with path.open("rb") as handle:
            data = handle.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise single_problem("there is no such file") from None
    except IsADirectoryError:
        raise single_problem("is a directory: expected a TOML file") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else "not a file name"
        raise single_problem(f"cannot be read: {reason}") from None
    return text_of(data)


def text_of(data: bytes) -> str:
    """The text of an uploaded or stored file; raises DocumentError where it is not text."""
    if len(data) > MAX_BYTES:
        raise single_problem(f"is too large: expected at most {MAX_BYTES // 1000} kB")
    if b"\0" in data:
        raise single_problem("is a binary file: expected a TOML text")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise single_problem("is not UTF-8 text: expected a TOML text", line=line) from None


def parse(text: str) -> dict[str, Any]:
    """The plain data of a TOML text; raises DocumentError where it is not TOML.

    A text that is asked for again is copied from what was read the last time.
    """
    return copy.deepcopy(_read(text))


@lru_cache(maxsize=16)
def _read(text: str) -> dict[str, Any]:
    if len(text) > MAX_BYTES or len(text.encode("utf-8", "replace")) > MAX_BYTES:
        raise single_problem(f"is too large: expected at most {MAX_BYTES // 1000} kB")
    _refuse_mazes(text)
    data = _loaded(text)
    _refuse_vast_numbers(data, text)
    return data


def _loaded(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        at = _AT_LINE.search(message)
        line = int(at[1]) if at and at[1] else text.count("\n") + 1
        said = message[: at.start()] if at else message
        raise single_problem(f"is not valid TOML: {_uncapital(said)}", line=line) from None
    except RecursionError:
        raise single_problem("is not valid TOML: nested too deeply") from None
    except (ValueError, OverflowError) as error:
        raise single_problem(f"is not valid TOML: {_uncapital(str(error))}") from None


_KEY_PART = r"""(?:[A-Za-z0-9_-]++|"[^"\n]{0,80}"|'[^'\n]{0,80}')"""
_MAZE = re.compile(rf"(?<![A-Za-z0-9_-])(?:{_KEY_PART}[ \t]*+\.[ \t]*+){{20}}")


def _refuse_mazes(text: str) -> None:
    """Keys of very many parts: never meant, and the parser's time grows with their square."""
    if found := _MAZE.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise single_problem("has a key of too many parts", line=line)


def _refuse_vast_numbers(data: dict[str, Any], text: str) -> None:
    """TOML's whole numbers have 64 bits; a longer one could not even be shown in an error."""
    waiting: list[tuple[Path, Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*path, key), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, place), inner) for place, inner in enumerate(value, 1)]
        elif isinstance(value, int) and value.bit_length() > _MOST_BITS:
            raise located([(path, "expected a number, found one of too many digits")], text)


def _uncapital(message: str) -> str:
    words = message.split(" ", 1)[0]
    return message[:1].lower() + message[1:] if words[1:].islower() else message


def check_head(data: Mapping[str, Any], document: str) -> None:
    """The first two keys: which document this is, and in which version."""
    kind, version = data.get("document"), data.get("version")
    if kind is None:
        raise single_problem(f'is missing: expected document = "{document}"', "document")
    if kind != document:
        raise single_problem(f'expected "{document}", found {shown(kind)}', "document")
    if version is None:
        raise single_problem(f"is missing: expected version = {VERSION}", "version")
    if version is True or version != VERSION:
        raise single_problem(f"expected {VERSION}, found {shown(version)}", "version")


def located(problems: Iterable[tuple[Path, str]], text: str) -> DocumentError:
    """An error whose problems name the lines of the text, in the order of the lines."""
    lines = key_lines(text)
    placed = [Problem(dotted(path), message, line_of(path, lines)) for path, message in problems]
    return DocumentError(sorted(placed, key=lambda p: p.line))


def write(document: str, data: Mapping[str, Any]) -> str:
    """A TOML text: the head, then the data. Whole numbers are written without a fraction."""
    return write_data({"document": document, "version": VERSION, **plain_data(data)})


def write_data(data: Mapping[str, Any]) -> str:
    """A TOML text of plain data as it is."""
    return tomli_w.dumps(data, multiline_strings=not _has_carriage_return(data))


def plain_data(value: Any) -> Any:
    """Data as it is written: whole numbers without a fraction, where that loses nothing."""
    if isinstance(value, dict):
        return {k: plain_data(v) for k, v in value.items()}
    if isinstance(value, list):
        return [plain_data(v) for v in value]
    if isinstance(value, float) and value.is_integer() and abs(value) < _EXACT:
        return value if str(value) == "-0.0" else int(value)
    return value


def _has_carriage_return(value: Any) -> bool:
    """Whether a string holds one: in a string of many lines it would be lost."""
    if isinstance(value, dict):
        return any(_has_carriage_return(v) for v in value.values())
    if isinstance(value, list):
        return any(_has_carriage_return(v) for v in value)
    return isinstance(value, str) and "\r" in value
