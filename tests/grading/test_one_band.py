"""What was done has one band, wherever it is spoken of."""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.measures import measure
from workups.chemistry.plan import Plan
from workups.chemistry.readings import DoneStep, Readings, TargetReadings, Weighing
from workups.chemistry.run import continue_run, prepare
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.expected import weighed_mass
from workups.words.numbers import interval

TARGETS = {"plain-ether": "1_butoxy_4_methylbenzene", "too-much-vinegar": "hexyl_acetate"}


@pytest.mark.parametrize("key", TARGETS)
def test_yield_and_diagnosis_speak_of_the_same_band(key: str) -> None:
    exercise, target = library_exercise(key), TARGETS[key]
    weighings = (Weighing("tare", 50.0), Weighing("gross", 52.0), Weighing("gross", 52.0))
    steps = tuple(DoneStep(s, "done") for s in exercise.model_plan.steps)
    record = Readings(steps, targets={target: TargetReadings(weighings)})
    found = assess(exercise, None, record, draws=150)
    [mine] = found.readings
    assert mine.done_band == found.expected[0].plan_band
    words = interval(mine.done_band.low, mine.done_band.high, "g")
    said = [s for h in found.diagnosis for s in h.evidence if "steps as recorded lead to" in s]
    assert said
    assert all(f"steps as recorded lead to {words}" in sentence for sentence in said)
    for hypothesis in found.diagnosis:
        if hypothesis.key == "nothing-wrong":
            assert hypothesis.expected == mine.done_band


def test_the_balance_adds_the_uncertainty_of_two_weighings_to_a_band() -> None:
    """0.0147 g on a balance that reads 0.01 g (chemistry.md): tare and gross, drawn apart."""
    exercise, target = library_exercise("plain-ether"), TARGETS["plain-ether"]
    run = continue_run(prepare(exercise.setup, Draws(1, 2000)), Plan(exercise.model_plan.steps[:1]))
    noise = weighed_mass(run, target) - measure(run, target).mass_g
    assert noise[0] == 0.0
    assert np.std(noise[1:]) == pytest.approx(0.0147, rel=0.06)
