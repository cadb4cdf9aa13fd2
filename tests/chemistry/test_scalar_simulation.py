"""Whole plans computed a second time on plain floats: every number agrees.

The scalar simulation (``tests/chemistry/scalar``) reads the tables itself, finds the pH with
``scipy.optimize.brentq`` and shares no code with the program; plans and exercises are its input.
Amounts, volumes, water, gas, masses and pH agree to 1e-6, traces to a billionth of the input.
A few library exercises by default, every one with LONG_TESTS=1 (see ``.ci/long``).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.long import exercises
from workups.documents import library_exercise, load_plan

from .comparison import disagreements
from .mixtures import random_case
from .own_substances import from_file, under_another_key

PLANS = Path(__file__).parents[1] / "data" / "plans"
LIBRARY = Path(__file__).parents[2] / "workups" / "library"
EXERCISES = exercises(tuple(sorted(path.stem for path in LIBRARY.glob("*.toml"))))


@pytest.mark.parametrize("key", EXERCISES)
def test_the_model_plans_of_the_library_agree(key: str) -> None:
    exercise = library_exercise(key)
    assert disagreements(exercise.model_plan, exercise.setup) == []


@pytest.mark.parametrize("key", EXERCISES)
def test_the_alternatives_of_the_library_agree(key: str) -> None:
    exercise = library_exercise(key)
    for plan in exercise.alternatives:
        assert disagreements(plan, exercise.setup) == []


@pytest.mark.parametrize("name", sorted(path.stem for path in PLANS.glob("*.toml")))
def test_the_planted_plans_agree(name: str) -> None:
    exercise = library_exercise("too-much-vinegar")
    assert disagreements(load_plan((PLANS / f"{name}.toml").read_text()), exercise.setup) == []


@pytest.mark.parametrize("seed", range(100))
def test_random_plans_with_random_mixtures_agree(seed: int) -> None:
    assert disagreements(*random_case(seed, adjust=False)) == []


@pytest.mark.parametrize("seed", range(1000, 1030))
def test_random_plans_that_bring_to_a_pH_agree(seed: int) -> None:
    assert disagreements(*random_case(seed)) == []


def test_plans_with_substances_of_the_exercises_own_agree() -> None:
    """One from a file, with constants that the tables do not hold, and a table row's twin."""
    twin = under_another_key("too-much-vinegar", "hexyl_acetate", "twin_ester")
    for exercise in (from_file(), twin):
        assert disagreements(exercise.model_plan, exercise.setup) == []
