"""Ways to lose a product that no rule of chemistry speaks of: each is said and costs points."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from workups.chemistry.plan import WASTE, Collect, Plan, Strip
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Finding

DRAWS = 8


def _dissolved(plan: Plan) -> Plan:
    """The solid is collected before the acid that makes it, and the filtrate poured away."""
    collect = next(s for s in plan.steps if isinstance(s, Collect))
    return plan.without("acidify", "test-a").replacing(replace(collect, filtrate_in=WASTE))


def _wrong_place(plan: Plan) -> Plan:
    """Another liquid goes onto the filter: there is no solid in it, and none on the balance."""
    collect = next(s for s in plan.steps if isinstance(s, Collect))
    return plan.replacing(replace(collect, flask="spent brine"))


def _boiled_off(plan: Plan) -> Plan:
    strip = next(s for s in plan.steps if isinstance(s, Strip))
    return plan.replacing(replace(strip, bath_C=60.0, pressure_mbar=5.0, hold_min=60.0))


def _not_boiled_down(plan: Plan) -> Plan:
    strip = next(s for s in plan.steps if isinstance(s, Strip))
    return plan.without(strip.id)


@pytest.mark.parametrize(("key", "edit", "words"), [
    ("three-in-one-bottle", _dissolved, "stays in the water"),
    ("three-in-one-bottle", _wrong_place, "trans-cinnamic acid"),
    ("catch-it", _boiled_off, "evaporates"),
    ("catch-it", _not_boiled_down, "still dissolved"),
])
def test_it_is_said_and_costs_points(
    key: str, edit: Callable[[Plan], Plan], words: str
) -> None:
    exercise = library_exercise(key)
    found = assess(exercise, edit(exercise.model_plan), draws=DRAWS)
    charged: list[Finding] = [f for f in found.findings if f.charged and f.score_loss > 0.1]
    assert charged
    assert any(words in f.message for f in charged)
    assert found.points < 0.85 * found.out_of
