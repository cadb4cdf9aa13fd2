"""The table of OWASP ASVS 5.0.0 names every requirement of levels 1 and 2 once, and real tests.

The table of data names every kind of row once.
"""

import re
from collections import Counter
from pathlib import Path

from django.apps import apps

ROOT = Path(__file__).resolve().parents[2]
TABLE = (ROOT / "labcourse" / "ASVS.md").read_text(encoding="utf-8")
# How many requirements of levels 1 and 2 each section of the standard has; they come first in it.
COUNTS = {
    "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2, "2.1": 3, "2.2": 3, "2.3": 4, "2.4": 1,
    "3.2": 2, "3.3": 4, "3.4": 6, "3.5": 5, "3.7": 2, "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4,
    "5.1": 1, "5.2": 3, "5.3": 2, "5.4": 3, "6.1": 3, "6.2": 12, "6.3": 4, "6.4": 4, "6.5": 5,
    "6.6": 3, "6.8": 4, "7.1": 3, "7.2": 4, "7.3": 2, "7.4": 5, "7.5": 2, "7.6": 2, "8.1": 2,
    "8.2": 3, "8.3": 1, "8.4": 1, "9.1": 3, "9.2": 4, "10.1": 2, "10.2": 2, "10.3": 4,
    "10.4": 11, "10.5": 5, "10.6": 2, "10.7": 3, "11.1": 2, "11.2": 3, "11.3": 3, "11.4": 4,
    "11.5": 1, "11.6": 1, "12.1": 3, "12.2": 2, "12.3": 4, "13.1": 1, "13.2": 5, "13.3": 2,
    "13.4": 5, "14.1": 2, "14.2": 4, "14.3": 3, "15.1": 3, "15.2": 3, "15.3": 7, "16.1": 1,
    "16.2": 5, "16.3": 4, "16.4": 3, "16.5": 3, "17.1": 1, "17.2": 4, "17.3": 2,
}  # fmt: skip
STATES = {"met", "not met", "n/a", "department"}


def rows():
    for line in TABLE.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if re.match(r"\d", cells[0]):
            yield cells


def requirements(cell):
    for part in cell.split(", "):
        first, _, last = part.partition("–")
        section, number = first.rsplit(".", 1)
        end = int(last.rsplit(".", 1)[1]) if last else int(number)
        yield from (f"{section}.{n}" for n in range(int(number), end + 1))


def test_every_requirement_stands_there_once():
    named = Counter(r for cells in rows() for r in requirements(cells[0]))
    expected = {f"{section}.{n + 1}" for section, count in COUNTS.items() for n in range(count)}
    assert set(named) == expected
    assert [r for r, times in named.items() if times > 1] == []


def test_every_row_has_a_state_and_says_how():
    for cells in rows():
        assert len(cells) == 4, cells
        assert cells[1] in STATES, cells
        assert cells[2], cells


def test_the_tests_named_there_exist():
    named = {path for cells in rows() for path in cells[3].split(", ") if path}
    assert len(named) > 20
    assert [path for path in sorted(named) if not (ROOT / path).exists()] == []


def tables_by_level():
    """The two tables of the data: what is held, and what each level asks for."""
    data = TABLE.split("## The data, by how far they are protected")[1]
    held, asked = data.split("What each level asks for")
    return [
        [[cell.strip() for cell in line.strip("|").split("|")] for line in part.splitlines()
         if line.startswith("| ") and not line.startswith("| level")]
        for part in (held, asked)
    ]  # fmt: skip


def test_every_kind_of_row_has_one_level():
    held, _ = tables_by_level()
    named = [name for cells in held for name in re.findall(r"`(\w+)`", cells[2])]
    models = {model.__name__ for model in apps.get_app_config("workups").get_models()}
    assert sorted(named) == sorted(models | {"AccessAttempt"})


def test_every_level_says_what_it_asks_for():
    held, asked = tables_by_level()
    assert [cells[0] for cells in asked] == list(dict.fromkeys(cells[0] for cells in held))
    assert all(len(cells) == 5 and all(cells) for cells in asked)
