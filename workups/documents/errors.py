"""What is wrong with a document: every problem with its place, in one exception."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]{1,80}")
_SHOWN = 60


@dataclass(frozen=True)
class Problem:
    """One problem: dotted key (items of a list counted from 1), line (0: not known), message."""

    where: str
    message: str
    line: int = 0

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        return ": ".join(part for part in (line, self.where, self.message) if part)


class DocumentError(ValueError):
    """A document that cannot be used; ``problems`` lists everything found, in file order."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(p) for p in self.problems))

    @property
    def where(self) -> str:
        """Dotted key of the first problem."""
        return self.problems[0].where

    @property
    def line(self) -> int:
        """Line of the first problem, 0 where it is not known."""
        return self.problems[0].line

    @property
    def first_line(self) -> str:
        """The first problem on one line, and how many more there are."""
        more = len(self.problems) - 1
        return f"{self.problems[0]}{f' (and {more} more)' if more else ''}"


def single_problem(message: str, where: str = "", line: int = 0) -> DocumentError:
    """An error with one problem."""
    return DocumentError([Problem(where, message, line)])


def dotted(path: Path) -> str:
    """A path as a person reads it: ``step[3].volume_mL``."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part}]"
        else:
            name = part if _BARE.fullmatch(part) else shown(part)
            text += f".{name}" if text else name
    return text


def shown(value: object) -> str:  # noqa: PLR0911 (one return a type)
    """A value as it is quoted in a message: short, on one line, whatever it is."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) >= 10**20:
        return "a very large number"
    if isinstance(value, int | float):
        return repr(value)
    if not isinstance(value, str):
        return "nothing" if value is None else f"a {type(value).__name__}"
    text = value if len(value) <= _SHOWN else value[:_SHOWN] + "…"
    return '"' + "".join(c if c.isprintable() else "?" for c in text) + '"'
