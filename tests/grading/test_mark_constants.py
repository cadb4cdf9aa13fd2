"""The numbers that marks rest on, as they were last read through.

``tests/data/mark_constants.csv`` has each number that ``tests.mutation --constants`` doubles and
halves: those that a module of marks gives a name, and those that a rule takes of a score. Who
changes one changes it there too, prints stories and matrix, and says in the commit why. The file
holds the numbers still and does not say that they are right; which of them no mark notices is what
``python -m tests.grading.constants`` prints.

``python -m tests.grading.test_mark_constants`` writes the file anew.
"""

from __future__ import annotations

import ast
import csv
from collections.abc import Iterator
from pathlib import Path

from tests.mutation import ROOT, given_numbers, scope

FILE = ROOT / "tests" / "data" / "mark_constants.csv"
HEAD = ("module", "name", "values")


def constants() -> list[tuple[str, str, str]]:
    """Module, name and numbers of every statement or call that gives some."""
    return [(path, name, values) for path in scope() if "/grading/" in path
            for name, values in _given(ast.parse((ROOT / path).read_text(encoding="utf-8")))]


def _given(tree: ast.Module) -> Iterator[tuple[str, str]]:
    """Numbers with a name one by one; those that rules take of a score together, by size."""
    taken: list[float] = []
    for statement in tree.body:
        numbers = [n.value for n in given_numbers(ast.Module([statement], []))]
        if isinstance(statement, ast.Assign | ast.AnnAssign):
            if numbers:
                yield _name(statement), " ".join(map(repr, numbers))
        else:
            taken += numbers
    if taken:
        yield "taken of a score", " ".join(map(repr, sorted(taken)))


def _name(statement: ast.Assign | ast.AnnAssign) -> str:
    target = statement.target if isinstance(statement, ast.AnnAssign) else statement.targets[0]
    return ast.unparse(target).strip("()")


def test_every_number_that_marks_rest_on_is_as_it_was_last_read_through() -> None:
    with FILE.open(encoding="utf-8", newline="") as file:
        head, *rows = map(tuple, csv.reader(file))
    assert head == HEAD
    assert rows == constants(), "read it through, then python -m tests.grading.test_mark_constants"


def _write(path: Path) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([HEAD, *constants()])


if __name__ == "__main__":
    _write(FILE)
