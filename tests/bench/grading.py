"""Measure the grading: ``python -m tests.bench.grading --help``.

Grading a plan with all its mends and its band, beside one simulation of that plan with the same
band; and how the time of marking a class grows with its size.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Iterator

from tests.grading.catalogue import MISTAKES
from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.run import prepare, simulate
from workups.documents.library import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.invented_students import simulate_student
from workups.invented_students.mistakes import planning_mistakes

from .timing import Figure, growth, turns

BAND, FEW = 500, 8
MOST = 20.0
SUBMISSIONS, SIZES = 1000, (10, 30, 100, 300, 1000)
MANY_MISTAKES = ("5", "23", "39", "46", "49")


def plans(exercise: Exercise) -> Iterator[tuple[str, Plan]]:
    """The model plan, each planning mistake of the demo courses, and several mistakes at once."""
    yield "model", exercise.model_plan
    yield from planning_mistakes(exercise).items()
    yield "several mistakes", several_mistakes(exercise)


def several_mistakes(exercise: Exercise) -> Plan:
    """The model plan with one mistake of the catalogue made after the other."""
    start = prepare(exercise.setup, Draws(1, 1))
    case = Case(exercise, exercise.model_plan, start).changed(exercise.model_plan)
    for mistake in MISTAKES:
        if mistake.number in MANY_MISTAKES:
            case = case.tried(mistake.change(case)) or case
    return case.plan


def grading(exercise: Exercise) -> Iterator[tuple[str, float]]:
    """Every plan of an exercise: grading over one simulation, the exercise's own run known."""
    for draws in (BAND, 48):
        model_run(exercise, 1, draws)
    for name, plan in plans(exercise):
        graded, once = turns(lambda p=plan: assess(exercise, p, draws=BAND),
                             lambda p=plan: simulate(p, exercise.setup, Draws(1, BAND)))
        yield name, graded / once


def marking(
    exercises: list[Exercise], submissions: int, sizes: tuple[int, ...] = SIZES
) -> Figure:
    """Marking a class again: plans and bench records of simulated students, few draws."""
    class_work = [(e, simulate_student(e, number)) for number in range(submissions)
                  for e in (exercises[number % len(exercises)],)]
    sizes = tuple(n for n in sizes if n <= submissions)
    times, began = [], time.process_time()
    for at, (exercise, student) in enumerate(class_work, start=1):
        assess(exercise, student.plan, student.readings, draws=FEW)
        if at in sizes:
            times.append(time.process_time() - began)
    # Not exactly 1: the students differ. A class twice as large may take a tenth more than twice.
    return growth(f"exponent over submissions marked again, {FEW} draws", sizes, times, 1.05)


def main() -> None:
    """Print every figure beside what is asked; the exit status says whether all hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.grading")
    parser.add_argument("--submissions", type=int, default=SUBMISSIONS)
    parser.add_argument("exercises", nargs="*", help="of the library; none: all of them")
    asked = parser.parse_args()
    exercises = [library_exercise(n) for n in asked.exercises or library_names()]
    short = 0
    for exercise in exercises:
        found = dict(grading(exercise))
        worst = max(found, key=lambda name: found[name])
        figure = Figure(f"{exercise.key}: grading over one simulation, the worst of {len(found)}",
                        found[worst], MOST, details=f"{worst}; median "
                        f"{statistics.median(found.values()):.1f}, model plan {found['model']:.1f}")
        print(figure.line(), flush=True)  # noqa: T201
        short += not figure.holds
    figure = marking(exercises, asked.submissions)
    print(figure.line())  # noqa: T201
    sys.exit(1 if short or not figure.holds else 0)


if __name__ == "__main__":
    main()
