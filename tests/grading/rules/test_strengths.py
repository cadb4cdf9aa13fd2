"""How heavy each rule is, and what it takes of its check, at two plans or more.

``tests/data/rule_strengths.csv`` has a row for each plan: the code, the plan's name in the tables
of these tests, the strength of the heaviest finding, and the least and most it may take, in per
cent of its check's points. Strength and size were read through by hand; the bands are a fifth to
either side of what was computed on 1 December 2026, so a share that is doubled or halved is
noticed. They hold marks still, and do not say that they are fair: that is ``stories.py``.

A rule with one plan that breaks it has one beside it that keeps it, where it takes nothing.
"""

from __future__ import annotations

import csv
from collections import Counter
from pathlib import Path

import pytest

from tests.long import IS_LONG
from workups.grading.assess import assess
from workups.grading.assessment import Finding
from workups.grading.rule import RULES

from ..planted import findings
from .labs import Lab
from .tables import Table
from .test_every_rule import MODULES

ROWS = Path(__file__).parents[2] / "data" / "rule_strengths.csv"
TABLES: dict[str, Table] = {code: table for m in MODULES for code, table in m.TABLES.items()}
DRAWS = 8
NOT_FOUND = ""


def rows() -> list[tuple[str, str, str, float, float]]:
    """Code, plan, strength, least and most in per cent of the check."""
    with ROWS.open(encoding="utf-8", newline="") as file:
        return [(r["code"], r["plan"], r["strength"], float(r["least"]), float(r["most"]))
                for r in csv.DictReader(file)]


def lab_named(code: str, plan: str) -> Lab:
    """A plan of the tables."""
    table = TABLES[code]
    return {**table.keeps, **table.looks_wrong, **table.breaks}[plan]()


def heaviest(code: str, lab: Lab) -> Finding | None:
    """The finding of a rule that takes most."""
    result = assess(lab.exercise, lab.plan, draws=DRAWS)
    found = [f for f in findings(result) if f.code == code]
    return max(found, key=lambda f: f.score_loss, default=None)


@pytest.mark.parametrize(
    ("code", "plan", "strength", "least", "most"), rows() if IS_LONG else rows()[::3], ids=str)
def test_a_rule_is_as_heavy_as_it_is_written_down(
    code: str, plan: str, strength: str, least: float, most: float
) -> None:
    found = heaviest(code, lab_named(code, plan))
    if strength == NOT_FOUND:
        assert found is None or found.score_loss == 0.0
        return
    assert found is not None
    assert found.strength == strength
    assert least <= 100 * found.score_loss <= most


def test_every_rule_stands_there_with_two_plans() -> None:
    counted = Counter(code for code, *_ in rows())
    assert set(counted) == set(RULES)
    assert [code for code, times in counted.items() if times < 2] == []
