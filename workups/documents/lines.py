"""Finds the line of a TOML text on which a key is written.

The standard parser does not tell where a value stood, so the text is walked once more, line by
line. Keys inside inline tables are not looked for: their table's line is given instead.
"""

import re
from collections.abc import Iterator, Mapping

from .errors import Path

_PART = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
_KEY = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_LIST_HEADER = re.compile(rf"[ \t]*\[\[[ \t]*({_KEY})[ \t]*\]\]")
_HEADER = re.compile(rf"[ \t]*\[[ \t]*({_KEY})[ \t]*\]")
_ASSIGNMENT = re.compile(rf"[ \t]*({_KEY})[ \t]*=")
_TOKEN = re.compile(r"""\"\"\"|'''|"(?:[^"\\\n]|\\.)*"|'[^'\n]*'|\#.*|[\[\]{}]""")
_CLOSING = {'"""': re.compile(r'(?:[^"\\]|\\.|"(?!""))*"""', re.S), "'''": re.compile(r".*?'''")}
_LONGEST_LINE = 20_000


def line_of(path: Path, lines: Mapping[Path, int]) -> int:
    """The line of a path or of the nearest table around it; 0 where nothing is known."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 0


def key_lines(text: str) -> dict[Path, int]:
    """Line (from 1) of every key and table header that is written on a line of its own."""
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    for number, line in _statements(text):
        if header := _LIST_HEADER.match(line):
            table = _next_item(_parts(header[1]), counts)
            found.setdefault(table[:-1], number)
        elif header := _HEADER.match(line):
            table = _resolved(_parts(header[1]), counts)
        elif assignment := _ASSIGNMENT.match(line):
            found.setdefault((*table, *_parts(assignment[1])), number)
            continue
        else:
            continue
        found.setdefault(table, number)
    return found


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """The lines on which a statement begins, without those inside a value of many lines."""
    depth, inside = 0, ""
    for number, line in enumerate(text.split("\n"), 1):
        if len(line) > _LONGEST_LINE:
            return
        at = 0
        if not inside and depth == 0:
            yield number, line
            header = _LIST_HEADER.match(line) or _HEADER.match(line)
            assignment = _ASSIGNMENT.match(line)
            at = header.end() if header else assignment.end() if assignment else 0
        depth, inside = _after(line, at, depth, inside)


def _after(line: str, at: int, depth: int, inside: str) -> tuple[int, str]:
    """Bracket depth and open many-line string at the end of a line."""
    while at <= len(line):
        if inside:
            closed = _CLOSING[inside].match(line, at)
            if not closed:
                return depth, inside
            at, inside = closed.end(), ""
        token = _TOKEN.search(line, at)
        if not token:
            return depth, inside
        at = token.end()
        if token[0] in _CLOSING:
            inside = token[0]
        elif token[0] in "[{":
            depth += 1
        elif token[0] in "]}":
            depth = max(0, depth - 1)
    return depth, inside


def _parts(key: str) -> tuple[str, ...]:
    return tuple(p[1:-1] if p[0] in "\"'" else p for p in re.findall(_PART, key))


def _resolved(parts: tuple[str, ...], counts: Mapping[Path, int]) -> Path:
    path: Path = ()
    for part in parts:
        path = (*path, part)
        if path in counts:
            path = (*path, counts[path])
    return path


def _next_item(parts: tuple[str, ...], counts: dict[Path, int]) -> Path:
    path: Path = (*_resolved(parts[:-1], counts), parts[-1])
    counts[path] = counts.get(path, 0) + 1
    return (*path, counts[path])
