"""Measure the diagnosis on simulated students: ``python -m tests.bench.diagnosis --help``.

Students of all library exercises by turns, slips at the stated priors. Each is diagnosed and held
against the best that any method could do (``diagnosis_optimum``).

These students are drawn from the diagnosis' own assumptions (the list of slips, its weights, the
usual sizes), so the figures say that it adds up, not that real classes are like that. Beside them
stand those of students whose slips are half or twice as large, or half or twice as frequent: of 60
each of plain-ether the right group was among three for 0.95 to 1.00, and the calibration error,
0.04 as expected, 0.08 to 0.15 (noise floor 0.10).
"""

from __future__ import annotations

import argparse
import time
from collections import OrderedDict
from collections.abc import Iterable, Iterator, Sequence

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Extract, Plan
from workups.chemistry.run import Run, continue_run, prepare, simulate
from workups.documents.library import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.case import Case
from workups.grading.diagnosis.ranking import Explanations, diagnose, explanations, probabilities
from workups.grading.diagnosis.record import bench_record
from workups.grading.diagnosis.scenarios import DRAWS
from workups.grading.done import plan_as_done
from workups.invented_students import AS_EXPECTED, Habits, SimulatedStudent, simulate_student

from .diagnosis_optimum import Optimum
from .diagnosis_scores import (
    Figures,
    Judgement,
    Scores,
    by_slip,
    confusion,
    figures,
    reliability,
    scores,
    side_by_side,
)

STUDENTS, BENCHES = 2000, 2000
KEPT = 150
OTHER_HABITS = {
    "half as large": Habits(size=0.5),
    "twice as large": Habits(size=2.0),
    "half as often": Habits(prior=0.5),
    "twice as often": Habits(prior=2.0),
}


class Diagnoser:
    """The diagnosis of one exercise; explanations of the same work as done are kept."""

    def __init__(self, exercise: Exercise) -> None:
        self.exercise = exercise
        self.start: Run = prepare(exercise.setup, Draws(1, DRAWS))
        self.kept: OrderedDict[Plan, Explanations] = OrderedDict()

    def probabilities(self, student: SimulatedStudent) -> dict[str, float]:
        """Probability of every explanation of a student's record."""
        plan = plan_as_done(student.plan, student.readings)
        if plan not in self.kept:
            done = Case(self.exercise, plan, continue_run(self.start, plan))
            volumes = frozenset((s.id, s.keep_in) for s in plan.steps if isinstance(s, Extract))
            self.kept[plan] = explanations(done, volumes)
            if len(self.kept) > KEPT:
                self.kept.popitem(last=False)
        record = bench_record(self.exercise.setup, plan.steps, student.readings)
        return dict(probabilities(self.kept[plan], record))


def figures_of(
    exercises: Sequence[Exercise], students: int, habits: Habits, seed: int = 0
) -> Figures:
    """The figures of students with other habits than the diagnosis expects."""
    slips, found = [], []
    for at, exercise in enumerate(exercises):
        diagnoser = Diagnoser(exercise)
        for number in range(at, students, len(exercises)):
            student = simulate_student(exercise, seed + number, amounts_vary=False, habits=habits)
            slips.append(student.slip)
            found.append(diagnoser.probabilities(student))
    return figures(slips, found)


def judgements(
    exercises: Sequence[Exercise], students: int, benches: int, seed: int = 0
) -> Iterator[Judgement]:
    """Simulate, diagnose, and compute the best possible, exercise by exercise."""
    for at, exercise in enumerate(exercises):
        diagnoser = Diagnoser(exercise)
        optima: dict[Plan, Optimum] = {}
        for number in range(at, students, len(exercises)):
            student = simulate_student(exercise, seed + number, amounts_vary=False)
            if student.plan not in optima:
                optima[student.plan] = Optimum(exercise, student.plan, benches)
            yield Judgement(exercise.key, student.slip, diagnoser.probabilities(student),
                            optima[student.plan].posterior(student.readings))


def summary(found: Scores) -> str:
    """The figures asked for, one a line."""
    return "\n".join((
        f"students                         {found.students}",
        f"right group first                {found.first:.3f} (best possible "
        f"{found.first_best:.3f})",
        f"right group among three          {found.top3:.3f} (best possible {found.top3_best:.3f})",
        f"  of the optimum                 {found.of_optimum:.3f} (asked: 0.95)",
        f"expected calibration error       {found.error:.3f} (asked: 0.05; noise floor "
        f"{found.floor:.3f}; of the optimum {found.error_best:.3f})",
        f"faultless called nothing wrong   {found.faultless_first:.3f} of {found.faultless} "
        f"(asked: 0.90; best possible {found.faultless_first_best:.3f})",
    ))


def speed(exercise: Exercise) -> str:
    """How long one whole diagnosis takes, beside one simulated plan with its 500-draw band."""
    student = simulate_student(exercise, 1, "nothing-wrong", plan=exercise.model_plan)
    plan = plan_as_done(student.plan, student.readings)
    began = time.perf_counter()
    run = simulate(plan, exercise.setup, Draws(1, 500))
    middle = time.perf_counter()
    diagnose(Case(exercise, plan, run), run, student.readings)
    end = time.perf_counter()
    return (f"{exercise.key:24} one plan {middle - began:.2f} s, one diagnosis "
            f"{end - middle:.2f} s: {(end - middle) / (middle - began):.1f} plans")


def main() -> None:
    """Print the figures, the reliability, slip by slip, the confusion table, and the speed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.diagnosis")
    parser.add_argument("students", nargs="?", type=int, default=STUDENTS)
    parser.add_argument("exercises", nargs="*", help="of the library; none: all of them")
    parser.add_argument("--seed", type=int, default=0, help="number of the first student")
    parser.add_argument(
        "--habits", type=int, metavar="N", help="students of each other habit; usual: a quarter")
    parser.add_argument(
        "--habits-only", action="store_true", help="no best possible, only what differs by habit")
    asked = parser.parse_args()
    exercises = [library_exercise(n) for n in asked.exercises or library_names()]
    each = asked.habits or max(1, asked.students // 4)
    if not asked.habits_only:
        _print_as_expected(exercises, asked.students, asked.seed)
    habits = {"as expected": AS_EXPECTED, **OTHER_HABITS}
    columns = {name: figures_of(exercises, each, h, asked.seed) for name, h in habits.items()}
    _print("Students of other habits, slips as the diagnosis expects them first",
           side_by_side(columns))


def _print_as_expected(exercises: Sequence[Exercise], students: int, seed: int) -> None:
    began = time.perf_counter()
    found = list(judgements(exercises, students, BENCHES, seed))
    took = f"{len(exercises)} exercises, {time.perf_counter() - began:.0f} s"
    _print(f"{took}; students drawn from the diagnosis' own assumptions", [summary(scores(found))])
    _print("Reliability", reliability(found))
    _print("Slip by slip", by_slip(found))
    _print("Confusion: true group by row, first by column", confusion(found))
    _print("Speed", [speed(e) for e in exercises])


def _print(title: str, lines: Iterable[str]) -> None:
    print("\n".join((title, *lines)), end="\n\n", flush=True)  # noqa: T201


if __name__ == "__main__":
    main()
