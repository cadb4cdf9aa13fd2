"""The matrix of planted mistakes: what each must cost, and what writing otherwise must not.

A seeded handful of two exercises on every change; every row of every exercise and published
procedure with LONG_TESTS=1 (see ``.ci/long``). The misses are printed by
``python -m tests.grading.matrix``.
"""

from __future__ import annotations

import pytest

from tests.long import IS_LONG

from .matrix import (
    harmless,
    harmless_plans,
    plans_with_mistakes,
    row,
    sampled,
)
from .plans import every_exercise

EXERCISES = every_exercise() if IS_LONG else tuple(
    e for e in every_exercise() if e.key in ("plain-ether", "there-and-back"))
ROWS, SPELLINGS = (0, 0) if IS_LONG else (8, 4)
ENOUGH = 0.95


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda e: e.key)
def test_a_planted_mistake_is_named_and_costs_what_it_loses(exercise):
    rows = [row(*planted) for planted in sampled(list(plans_with_mistakes([exercise])), ROWS)]
    missed = [r for r in rows if r.misses]
    assert len(rows) - len(missed) >= ENOUGH * len(rows) - 1, "\n" + "\n".join(map(str, missed))
    assert [c for r in rows for c in r.contradicting] == []


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("exercise", EXERCISES, ids=lambda e: e.key)
def test_a_right_route_written_otherwise_costs_nothing(exercise):
    rows = [harmless(*spelt) for spelt in sampled(list(harmless_plans([exercise])), SPELLINGS)]
    assert [str(r) for r in rows if r.missed] == []
