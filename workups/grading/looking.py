"""What the steps of a plan do, without judging them: for pictures of a plan that is being made."""

from __future__ import annotations

from workups.chemistry import ENGINE_VERSION
from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.chemistry.run import prepare, run_as_far
from workups.chemistry.yields import with_actual_amounts
from workups.exercise.exercise import Exercise
from workups.exercise.public import public_exercise

from .assessment import Assessment, StepReport
from .done import carried_out
from .modelrun import model_run
from .reports import step_reports


def look_at_steps(exercise: Exercise, plan: Plan, *, seed: int, draws: int) -> Assessment:
    """An assessment with public numbers that has the reports of the steps and nothing else: as far
    as the plan can be carried out, and the same numbers that an assessment of it has."""
    run, _ = run_as_far(model_run(public_exercise(exercise), seed, draws), plan)
    return Assessment(
        engine=ENGINE_VERSION, exercise=exercise.key, seed=seed, draws=draws, expected=(),
        steps=step_reports(run), checks=(), public_numbers=True)


def look_at_done(
    exercise: Exercise, plan: Plan, readings: Readings, *, seed: int
) -> tuple[Plan, tuple[StepReport, ...]]:
    """The steps as they were carried out, with the amounts really used, and what they did; nominal
    values, so that nothing in the reports that follows from draws counts.

    Raises what ``carried_out`` raises.
    """
    setup = with_actual_amounts(exercise.setup, readings.reagents)
    was = carried_out(prepare(setup, Draws(seed, 1)), plan, readings)
    return was.plan, step_reports(was.run)
