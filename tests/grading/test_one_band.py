"""What was done has one band, wherever it is spoken of."""

from __future__ import annotations

import pytest

from workups.chemistry.readings import DoneStep, Readings, TargetReadings, Weighing
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.numbers import interval

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
