"""What is carried out for one assessment: no step twice, no curve that nobody looks at."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import run as carrying_out
from workups.chemistry.draws import Draws
from workups.chemistry.facts import Facts
from workups.chemistry.inventory import Inventory
from workups.chemistry.plan import Extract, Plan, Step
from workups.chemistry.run import simulate
from workups.chemistry.state import State
from workups.documents import library_exercise, library_names
from workups.grading.assess import assess
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.invented_students.mistakes import planning_mistakes


def test_no_step_is_carried_out_twice_at_the_same_moment() -> None:
    exercise = library_exercise("plain-ether")
    plan = exercise.model_plan
    case = Case(exercise, plan, simulate(plan, exercise.setup, Draws(1, 2)))
    extract = next(s for s in plan.steps if isinstance(s, Extract))
    at = plan.index(extract.id)
    other = plan.replacing(replace(extract, volume_mL=0.5 * extract.volume_mL))
    once = case.changed(other)
    shorter = case.changed(Plan(other.steps[:-1]))
    assert once.run.outcomes[:at] == case.run.outcomes[:at]
    assert once.run.outcomes[at] != case.run.outcomes[at]
    assert shorter.changed(other).run.outcomes == once.run.outcomes
    assert shorter.run.outcomes == once.run.outcomes[:-1]


@pytest.mark.parametrize("name", library_names())
def test_a_check_of_one_mistake_carries_out_few_steps(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a plan of n steps at most n with all draws, and n/2 with few for rules and mends."""
    done: list[int] = []
    carry_out = carrying_out.carry_out

    def counting(inv: Inventory, state: State, step: Step) -> tuple[State, Facts]:
        done.append(inv.count)
        return carry_out(inv, state, step)

    exercise = library_exercise(name)
    mistaken = next(iter(planning_mistakes(exercise).values()))
    for draws in (50, 48):
        model_run(exercise, 1, draws)
    assess(exercise, mistaken, draws=50)
    monkeypatch.setattr(carrying_out, "carry_out", counting)
    assess(exercise, mistaken, draws=50)
    assert 0 < done.count(50) <= len(mistaken.steps)
    assert done.count(48) <= len(mistaken.steps) / 2


def test_curves_are_worked_out_for_whoever_asks() -> None:
    exercise = library_exercise("plain-ether")
    plain, looked_at = (assess(exercise, draws=8, curves=wanted) for wanted in (False, True))
    assert plain.expected[0].same_total == plain.expected[0].same_portion == ()
    assert len(looked_at.expected[0].same_total) == len(looked_at.expected[0].same_portion) == 6
    assert replace(looked_at, expected=plain.expected) == plain
