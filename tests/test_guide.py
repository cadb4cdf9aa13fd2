"""What the contributor's guide and the docstrings of the folders name is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from workups.grading import rules
from workups.grading.finding_titles import OF_READINGS
from workups.grading.rule import RULES
from workups.grading.slips import SLIPS

ROOT = Path(__file__).parents[1]
GUIDE = ROOT / "DEVELOPERS.md"
FOLDERS = sorted(
    p for top in ("labcourse", "workups") for p in (ROOT / top).rglob("__init__.py")
    if not {"migrations", "management", "templatetags"} & set(p.parts))
_SAID = ("chemistry", "exercise", "words")
_GRADED = (*_SAID, "grading")
_CORE = (*_GRADED, "stock", "explanation")
_ROWS = (*_CORE, "documents", "models")
_STORED = (*_ROWS, "selectors", "services")
MAY_USE = {
    "chemistry": (), "lookup": ("chemistry",), "exercise": ("chemistry",),
    "words": ("chemistry", "exercise"), "grading": _SAID, "stock": _SAID, "explanation": _GRADED,
    "invented_students": _GRADED, "documents": _CORE, "sheets": _CORE,
    "models": (*_CORE, "documents"), "selectors": (*_ROWS, "sheets"),
    "services": (*_ROWS, "selectors"), "web": (*_STORED, "sheets", "lookup"),
    "demo": (*_STORED, "invented_students"), "backups": (),
}
# Words with a hyphen in the lists of rules that are no names.
WORDS = {"co-solvent"}


def docstring(path: Path) -> str:
    return ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""


def named_paths(text: str) -> set[str]:
    """Paths of the project in a text, by the folder they begin with; patterns are left out."""
    tops = "|".join(["labcourse", "workups", "templates", "static", "tests", r"\.ci", *MAY_USE])
    found = re.findall(r"(?<![\w/.])(?:" + tops + r")/[\w./*-]+", text)
    return {path.rstrip(".") for path in found if "*" not in path}


def missing(text: str) -> list[str]:
    """Named paths that are neither in the project nor in its package."""
    return sorted(path for path in named_paths(text)
                  if not any((top / path).exists() for top in (ROOT, ROOT / "workups")))


def test_the_guide_is_short_enough_to_be_read() -> None:
    assert len(GUIDE.read_text(encoding="utf-8")) <= 12_000


@pytest.mark.parametrize("name", [GUIDE.name, "labcourse/DECISIONS.md", "tests/bench/MEASURED.md"])
def test_every_path_that_is_named_to_contributors_is_there(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert named_paths(text)
    assert missing(text) == []


@pytest.mark.parametrize("path", FOLDERS, ids=lambda p: str(p.parent.relative_to(ROOT)))
def test_every_folder_says_what_is_in_it_and_names_what_is_there(path: Path) -> None:
    text = docstring(path)
    assert text
    assert missing(text) == []


def rooms_used(path: Path) -> set[str]:
    """The rooms of workups that a module imports from, its own left out."""
    inside = path.relative_to(ROOT / "workups").parts
    package = ["workups", *inside[:-1]]
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            found.add(".".join([*above, *((node.module or "").split(".") if node.module else [])]))
    rooms = {name.split(".")[1] for name in found if name.startswith("workups.")}
    return rooms - {inside[0]}


@pytest.mark.parametrize("room", MAY_USE)
def test_a_room_uses_only_the_rooms_below_it(room: str) -> None:
    modules = sorted((ROOT / "workups" / room).rglob("*.py"))
    assert modules
    wrong = {str(m.relative_to(ROOT)): sorted(up) for m in modules
             if (up := rooms_used(m) - set(MAY_USE[room]))}
    assert wrong == {}


def test_every_room_has_its_floor() -> None:
    rooms = {p.parent.name for p in FOLDERS if p.parent.parent == ROOT / "workups"}
    assert rooms == set(MAY_USE)


def test_every_rule_has_its_place_in_the_lists_of_rules() -> None:
    words = set(re.findall(r"(?<![\w/.-])[a-z0-9-]+(?![\w/])", rules.__doc__ or ""))
    assert set(RULES) <= words
    named = {w for w in words if "-" in w and not w[0].isdigit()}
    assert named <= {*RULES, *OF_READINGS, *SLIPS, *WORDS}
