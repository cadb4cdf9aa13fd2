"""Trying a choice at every value: the plan's own value says what the plan does, and nothing that
is hidden shows."""

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from workups.chemistry.plan import DRY_ENDPOINTS, Adjust, Dry, Extract, Parting, Plan, Wash
from workups.chemistry.setup import Spread
from workups.documents import library_exercise
from workups.exercise.exercise import Exercise
from workups.exercise.public import public_exercise
from workups.grading.assess import assess
from workups.grading.finding_titles import OF_READINGS
from workups.grading.modelrun import model_run
from workups.grading.points.charges import ledger_titles
from workups.grading.reports import step_reports
from workups.grading.rule import RULES
from workups.grading.trying import IDEAS, Trial, ideas_of, try_out


@cache
def trial_of(key: str, step_id: str, idea: str) -> Trial:
    exercise = library_exercise(key)
    found = try_out(
        exercise, exercise.model_plan, step_id, IDEAS[idea], seed=1, is_released=False)
    assert found is not None
    return found


def line(trial: Trial, name: str) -> tuple[float, ...]:
    return next(x.shares for x in trial.lines if name in x.name)


def test_the_plans_own_value_gives_what_the_plan_does() -> None:
    exercise = public_exercise(library_exercise("bottom-layer"))
    trial = trial_of("bottom-layer", "extract", "portions")
    plan = exercise.model_plan
    reports = step_reports(model_run(exercise, 1, 1))
    at = plan.index("extract")
    step = plan.steps[at]
    assert isinstance(step, Extract)
    held, kept = (
        sum(s.share for s in reports[i].trail if s.place == place)
        for i, place in ((at - 1, step.flask), (at, step.keep_in)))
    own = trial.values.index(float(step.portions))
    assert trial.lines[0].shares[own] == pytest.approx(kept / held)


def test_more_portions_of_the_same_total_take_up_more() -> None:
    shares = trial_of("bottom-layer", "extract", "portions").lines[0].shares
    assert list(shares) == sorted(shares)
    # One portion leaves 12 %, three 3 %, six 1 %: the question is worth asking.
    assert 0.85 < shares[0] < 0.90
    assert shares[-1] > 0.98


def test_an_amine_leaves_the_water_above_its_pKa_alone() -> None:
    trial = trial_of("there-and-back", "basify", "pH")
    shares = trial.lines[0].shares
    by_pH = dict(zip(trial.values, shares, strict=True))
    assert by_pH[5] < 0.02
    assert by_pH[12] > 0.98
    assert min(trial.answers) >= 10


def test_what_the_agent_cannot_bind_it_leaves_however_much_there_is() -> None:
    trial = trial_of("plain-ether", "dry", "agent")
    left = line(trial, "water left")
    assert left[0] > 0.2
    assert left[-1] == pytest.approx(left[-2])
    assert trial.answers == (1.5,)


def test_no_trial_tells_how_far_the_reaction_went() -> None:
    exercise = library_exercise("too-much-vinegar")
    reaction = exercise.setup.reaction
    other = replace(exercise, setup=replace(
        exercise.setup, reaction=replace(reaction, conversion=Spread(0.3, 0.4, 0.5))))

    def told(one: Exercise) -> list[Trial | None]:
        plan = one.model_plan
        return [
            try_out(one, plan, step.id, idea, seed=1, is_released=False)
            for step in plan.of(Wash) for idea in ideas_of(step, one)]

    assert told(exercise) == told(other)


def test_every_step_with_a_choice_can_be_tried_and_the_values_are_few() -> None:
    exercise = library_exercise("three-in-one-bottle")
    for step in exercise.model_plan.steps:
        ideas = ideas_of(step, exercise)
        assert bool(ideas) == isinstance(step, Extract | Wash | Dry | Adjust)
        assert all(len(idea.values(step)) <= 12 for idea in ideas)
        assert isinstance(step, Parting | Dry | Adjust) or not ideas


def test_beside_a_finding_stands_only_what_may_mend_it() -> None:
    """A plan that keeps the wrong layer was told to try several small portions, one that leaves its
    product on the drying agent to try how much of that."""
    ether = library_exercise("plain-ether")
    [portions], [dry] = ether.model_plan.of(Extract), ether.model_plan.of(Dry)
    assert ideas_of(portions, ether, "product-layer-put-aside") == ()
    assert ideas_of(dry, ether, "ledger-not-carried-on") == ()
    assert [i.key for i in ideas_of(portions, ether, "recovery-below-goal")] == ["portions"]
    assert [i.key for i in ideas_of(dry, ether, "too-little-agent")] == ["agent"]


def test_what_an_idea_may_mend_is_found_by_something() -> None:
    known = {*RULES, *ledger_titles(), *OF_READINGS}
    assert set().union(*(idea.mends for idea in IDEAS.values())) - known == set()


@pytest.mark.parametrize(("key", "step", "worse", "idea", "code", "better"), [
    ("catch-it", "extract", {"portions": 1, "volume_mL": 100.0}, "portions",
     "recovery-below-goal", 4.0),
    ("plain-ether", "dry", {"endpoint": DRY_ENDPOINTS[0], "mass_g": 0.3}, "agent",
     "too-little-agent", 4.0),
])
def test_another_value_mends_what_it_stands_beside(
    key: str, step: str, worse: dict[str, Any], idea: str, code: str, better: float
) -> None:
    exercise = library_exercise(key)
    plan = exercise.model_plan
    poor = replace(plan.steps[plan.index(step)], **worse)

    def codes(one: Plan) -> set[str]:
        return {f.code for f in assess(exercise, one, draws=4).findings if f.step == step}

    assert code in codes(plan.replacing(poor))
    assert IDEAS[idea] in ideas_of(poor, exercise, code)
    assert code not in codes(plan.replacing(IDEAS[idea].changed(poor, better)))
