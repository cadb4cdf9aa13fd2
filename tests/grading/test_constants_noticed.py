"""A mark notices the numbers it rests on: each row of ``constants_noticed.csv`` is still so.

A few rows on every change, all of them with LONG_TESTS=1 (see ``.ci/long``). What no plan notices
has no row; ``python -m tests.grading.constants`` looks for more plans and prints what is left.
"""

from __future__ import annotations

import random

import pytest

from tests.long import count
from workups.grading.points import charges, shortfall
from workups.grading.rules import bookkeeping

from .constants import ALONE, CHANGES, Fault, faults, noticed_by, put_in, rows

FAULTS = {fault.key: fault for fault in faults()}
EVERY = random.Random(1).sample(rows(), k=len(rows()))  # noqa: S311 (no secret)
TRIED = sorted(EVERY, key=lambda row: not row[4].startswith(ALONE))[:count(12, len(EVERY))]


def test_the_rows_are_of_numbers_that_there_are_each_once() -> None:
    keys = [row[:4] for row in rows()]
    assert len(set(keys)) == len(keys)
    assert set(keys) - set(FAULTS) == set(), "python -m tests.grading.constants"


@pytest.mark.parametrize("row", TRIED, ids=" ".join)
def test_a_plan_notices_a_number_that_is_another(row: tuple[str, ...]) -> None:
    assert noticed_by(FAULTS[row[:4]], [row[4]], {}) == row[4]


def _fault(name: str, number: int = 1) -> Fault:
    return next(f for f in FAULTS.values()
                if (f.name, f.number, f.change) == (name, number, CHANGES[0]))


def test_a_number_is_changed_wherever_it_was_taken_over_and_put_back() -> None:
    slope, free = charges.SLOPE, charges.UNCHARGED
    with put_in(_fault("UNCHARGED, SLOPE, SPOILT_FREE", 2)):
        assert 2 * slope == charges.SLOPE
        assert free == charges.UNCHARGED
    assert slope == charges.SLOPE
    solvent = shortfall.SOLVENT_WEIGHT
    with put_in(_fault("SOLVENT_WEIGHT, AGENT_WEIGHT")):
        assert 2 * solvent == shortfall.SOLVENT_WEIGHT
    assert solvent == shortfall.SOLVENT_WEIGHT


def test_a_number_that_a_function_takes_of_a_score_is_changed_in_it() -> None:
    code = bookkeeping.flask_not_tared.__code__
    with put_in(_fault("flask_not_tared")):
        changed = bookkeeping.flask_not_tared.__code__
        assert changed.co_code == code.co_code
        assert set(changed.co_consts) - set(code.co_consts) == {0.8}
    assert bookkeeping.flask_not_tared.__code__ is code
