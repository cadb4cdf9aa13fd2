"""What the steps of a plan do, without judging them: for pictures of a plan that is being made."""

from __future__ import annotations

from workups.chemistry import ENGINE_VERSION
from workups.chemistry.plan import Plan
from workups.chemistry.run import run_as_far
from workups.exercise.exercise import Exercise
from workups.exercise.public import public_exercise

from .assessment import Assessment
from .modelrun import model_run
from .reports import step_reports


def look_at_steps(exercise: Exercise, plan: Plan, *, seed: int, draws: int) -> Assessment:
    """An assessment with public numbers that has the reports of the steps and nothing else: as far
    as the plan can be carried out, and the same numbers that an assessment of it has."""
    run, _ = run_as_far(model_run(public_exercise(exercise), seed, draws), plan)
    return Assessment(
        engine=ENGINE_VERSION, exercise=exercise.key, seed=seed, draws=draws, expected=(),
        steps=step_reports(run), checks=(), public_numbers=True)
