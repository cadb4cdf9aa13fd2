"""A small, seeded run of the measurement in ``tests/bench/diagnosis.py``.

The bounds are those asked of the full run of 2,000 students, with room for 60 only. The students
are drawn from the diagnosis' own assumptions: this shows that it adds up, not what real classes
are like. Those of other habits are measured beside them by the same command.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tests.bench.diagnosis import OTHER_HABITS, figures_of, judgements
from tests.bench.diagnosis_scores import (
    Judgement,
    by_group,
    by_slip,
    calibration,
    confusion,
    hits,
    scores,
    side_by_side,
)
from workups.documents import library_exercise
from workups.invented_students import Habits, simulate_student
from workups.invented_students.dice import Dice
from workups.invented_students.student import draw_accident

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


@pytest.mark.parametrize(("prior", "faultless"), [(1.0, 0.521), (2.0, 0.352)])
def test_slips_come_at_their_stated_priors_or_twice_as_often(
    prior: float, faultless: float
) -> None:
    """Weight 0.50 of a list that sums to 1.07 less the slips this plan does not allow (0.06 of
    portions, 0.03 of mixing, 0.02 of volumes): 0.50 of 0.96, and 0.50 of 1.42 where each slip
    counts twice. Standard error 0.065 for 60 students."""
    exercise = library_exercise("too-much-vinegar")
    habits = Habits(prior=prior)
    slips = [draw_accident(exercise, exercise.model_plan, None, Dice(n), habits).slip
             for n in range(60)]
    assert slips.count("nothing-wrong") / len(slips) == pytest.approx(faultless, abs=3 * 0.065)


def test_slips_of_twice_the_size_move_the_mass_further() -> None:
    exercise = library_exercise("plain-ether")
    for slip in ("spilled", "solvent-left", "object-at-gross"):
        nets = []
        for size in (0.5, 1.0, 2.0):
            student = simulate_student(exercise, 12, slip, habits=Habits(size=size))
            (record,) = student.readings.targets.values()
            nets.append(record.weighings[-1].mass_g - record.weighings[0].mass_g)
        usual = 2.95  # g, as a careful class weighs (2.8 to 3.1)
        off = [abs(n - usual) for n in nets]
        assert off == sorted(off), (slip, nets)
        assert off[2] > 1.3 * off[0], (slip, nets)


def test_the_figures_of_other_habits_stand_side_by_side() -> None:
    exercise = library_exercise("plain-ether")
    columns = {name: figures_of([exercise], 3, habits, seed=40)
               for name, habits in list(OTHER_HABITS.items())[:2]}
    lines = list(side_by_side(columns))
    assert [name in lines[0] for name in columns] == [True, True]
    assert [f.students for f in columns.values()] == [3, 3]
    assert any(line.startswith("expected calibration error") for line in lines)
