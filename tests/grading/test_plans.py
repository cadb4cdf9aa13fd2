"""The generator of plans for property tests makes what it promises."""

import pytest

from tests.long import count
from workups.chemistry.plan import STEP_KINDS
from workups.documents import check_plan

from .plans import (
    HARM,
    LONGEST,
    SPELLINGS,
    any_plan,
    edited_plan,
    every_exercise,
    harmed,
    random_plan,
    respelled,
)


def exercise_of(seed):
    return every_exercise()[seed % len(every_exercise())]


@pytest.mark.parametrize("seed", range(count(40, 600)))
def test_every_generated_plan_is_one_that_the_form_accepts(seed):
    exercise = exercise_of(seed)
    plan = any_plan(exercise, seed)
    assert 1 <= len(plan.steps) <= LONGEST
    assert check_plan(plan, exercise) == []
    assert any_plan(exercise, seed) == plan


def test_the_plans_are_short_and_long_with_every_kind_of_step():
    plans = [random_plan(exercise_of(seed), seed) for seed in range(200)]
    lengths = {len(p.steps) for p in plans}
    assert min(lengths) == 1
    assert max(lengths) > LONGEST - 10
    assert {type(s) for p in plans for s in p.steps} == set(STEP_KINDS.values())


def test_every_spelling_and_every_harm_is_tried():
    right = [(exercise_of(s), edited_plan(exercise_of(s), s), s) for s in range(200)]
    spelt = [respelled(plan, exercise, seed) for exercise, plan, seed in right]
    spoilt = [harmed(plan, exercise, seed) for exercise, plan, seed in right]
    assert {found[0] for found in spelt if found} == set(SPELLINGS)
    assert {found[0] for found in spoilt if found} == set(HARM)
