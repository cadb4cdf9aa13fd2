"""A small, seeded run of the measurement in ``tests/bench/diagnosis.py``.

The bounds are those asked of the full run of 2,000 students, with room for 60 only.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tests.bench.diagnosis import judgements
from tests.bench.diagnosis_scores import (
    Judgement,
    by_group,
    by_slip,
    calibration,
    confusion,
    hits,
    scores,
)
from workups.documents import library_exercise
from workups.grading.students import SimulatedStudent, simulate_student

STUDENTS, BENCHES = 60, 500


def test_the_diagnosis_comes_close_to_the_best_possible() -> None:
    exercise = library_exercise("too-much-vinegar")
    judged: Sequence[Judgement] = list(judgements([exercise], STUDENTS, BENCHES, seed=9000))
    found = scores(judged)
    assert found.top3_best > 0.85
    assert found.of_optimum >= 0.95
    # Stated probabilities are right as often as they say.
    assert found.error <= 0.05 + found.floor
    assert found.faultless >= 22
    assert found.faultless_first >= 0.90
    # The tables count every student.
    rows = list(confusion(judged))[1:]
    cells = [int(c) for row in rows for c in row[12:].split() if c != "·"]
    assert sum(cells) == STUDENTS
    assert len(list(by_slip(judged))) == 1 + len({j.slip for j in judged})


def test_a_calibrated_forecast_has_no_more_error_than_the_floor_and_an_overconfident_one_has(
) -> None:
    random = np.random.default_rng(3)
    sure = random.uniform(0.5, 1.0, 4000)
    fair = [{"none": float(s), "loss": float(1 - s)} for s in sure]
    truth = ["none" if random.random() < s else "loss" for s in sure]
    error, floor = calibration(fair, truth)
    assert error < 2 * floor < 0.05
    bold = [{"none": 0.99, "loss": 0.01} for _ in sure]
    assert calibration(bold, truth)[0] > 0.15


def test_hits_and_groups_on_a_case_worked_by_hand() -> None:
    chances = {"spilled": 0.25, "no-rinse": 0.25, "nothing-wrong": 0.4, "fines": 0.1}
    assert by_group(chances) == {"loss": 0.5, "none": 0.4, "agent": 0.1}
    assert hits([by_group(chances)] * 2, ["loss", "agent"], 1) == 0.5
    assert hits([by_group(chances)] * 2, ["loss", "agent"], 3) == 1.0


def test_a_simulated_student_is_the_same_whenever_asked() -> None:
    exercise = library_exercise("too-much-vinegar")
    assert simulate_student(exercise, 11) == simulate_student(exercise, 11)
    assert simulate_student(exercise, 11) != simulate_student(exercise, 12)


def test_a_slip_that_cannot_happen_with_a_plan_is_refused() -> None:
    exercise = library_exercise("too-much-vinegar")
    with pytest.raises(ValueError, match="cannot happen"):
        simulate_student(exercise, 1, "one-portion-fewer", plan=exercise.model_plan)


def test_slips_come_at_their_stated_priors() -> None:
    exercise = library_exercise("too-much-vinegar")
    students: list[SimulatedStudent] = [
        simulate_student(exercise, n, plan=exercise.model_plan, amounts_vary=False)
        for n in range(80)
    ]
    faultless = sum(s.slip == "nothing-wrong" for s in students) / len(students)
    # Prior 0.50 of a list that sums to 1.05 less the slips this plan does not allow (0.06):
    # 0.505, standard error 0.056 for 80 students.
    assert faultless == pytest.approx(0.505, abs=3 * 0.056)
