"""The diagnosis ranks what explains a mass, asks a question for each, and accuses nobody."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry.readings import Readings, TargetReadings, Weighing, Witness
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Hypothesis
from workups.grading.hypotheses.questions import QUESTIONS
from workups.grading.slips import SLIPS
from workups.grading.students import simulate_student

TARGET = "hexyl_acetate"
EXPECTED_G = 6.34
ACCUSING = ("cheat", "invent", "fabricat", "copied", "lied")


def readings(tare: float, *gross: float, **more: object) -> Readings:
    weighings = (Weighing("tare", tare), *(Weighing("gross", g) for g in gross))
    return Readings(targets={TARGET: TargetReadings(weighings, **more)})


def diagnosed(record: Readings) -> tuple[Hypothesis, ...]:
    return assess(library_exercise("too-much-vinegar"), None, record, draws=60).diagnosis


def keys(record: Readings, first: int = 3) -> list[str]:
    return [h.key for h in diagnosed(record)[:first]]


def test_probabilities_are_ranked_and_sum_to_one() -> None:
    found = diagnosed(readings(45.32, 51.66, 51.65))
    probabilities = [h.probability for h in found]
    assert probabilities == sorted(probabilities, reverse=True)
    assert sum(probabilities) == pytest.approx(1.0, abs=0.12)  # traces under 0.5 % are left out


def test_an_ordinary_mass_is_nothing_wrong() -> None:
    assert keys(readings(45.32, 51.66, 51.65), 1) == ["nothing-wrong"]


def test_tare_and_gross_in_each_others_place_is_found_first() -> None:
    assert keys(readings(51.66, 45.32), 1) == ["tare-gross-swapped"]


def test_a_yield_of_128_per_cent_points_to_what_is_weighed_with_the_product() -> None:
    heavy = {"solvent-left", "not-constant", "agent-in-flask", "aqueous-carried-over",
             "acid-left", "fines", "object-at-gross", "another-flask", "digits-swapped"}
    assert set(keys(readings(45.32, 54.55), 2)) <= heavy


def test_grit_in_the_flask_points_to_the_drying_agent() -> None:
    record = readings(45.32, 52.70, witnesses=(
        Witness("appearance", "white grit at the bottom", agrees=False),))
    assert keys(record, 1)[0] in ("agent-in-flask", "fines")


def test_a_falling_mass_points_to_solvent() -> None:
    assert keys(readings(45.32, 52.90, 52.55), 1)[0] in ("solvent-left", "not-constant")


def test_a_stir_bar_ticked_at_gross_only_is_found_first() -> None:
    weighings = (Weighing("tare", 45.32, on_pan=("flask",)),
                 Weighing("gross", 55.10, on_pan=("flask", "stir bar")))
    record = Readings(targets={TARGET: TargetReadings(weighings)})
    assert keys(record, 1) == ["object-at-gross"]


def test_next_to_nothing_in_the_flask_points_to_the_lost_layer() -> None:
    assert "wrong-layer" in keys(readings(45.32, 45.40, 45.40), 2)


def test_every_slip_has_a_question() -> None:
    assert set(SLIPS) <= set(QUESTIONS)
    assert len(SLIPS) >= 18


def test_no_title_question_or_evidence_accuses_anybody() -> None:
    found = diagnosed(readings(45.32, 54.55))
    said = " ".join([*QUESTIONS.values(), *(s.title for s in SLIPS.values()),
                     *(e for h in found for e in h.evidence)]).casefold()
    assert not [word for word in ACCUSING if word in said]
    assert all(h.question.endswith("?") or h.question.endswith(".") for h in found)


def test_an_exercises_own_prior_moves_the_ranking() -> None:
    exercise = replace(library_exercise("too-much-vinegar"), priors={"solvent-left": 50.0})
    record = readings(45.32, 51.95)
    found = assess(exercise, None, record, draws=60).diagnosis
    assert found[0].key == "solvent-left"


def test_faultless_simulated_records_are_called_nothing_wrong() -> None:
    exercise = library_exercise("too-much-vinegar")
    first = [assess(exercise, s.plan, s.readings, draws=40).diagnosis[0].key
             for s in (simulate_student(exercise, n, "nothing-wrong") for n in range(20))]
    assert first.count("nothing-wrong") >= 18
