"""The diagnosis ranks what explains a mass, asks a question for each, and accuses nobody."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from workups.chemistry.plan import Plan, Strip, Tare, Transfer, Weigh
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Hypothesis
from workups.grading.diagnosis import MAKERS
from workups.grading.diagnosis.ranking import LEAST_SHOWN
from workups.grading.slips import SLIPS, SOMETHING_ELSE, priors
from workups.invented_students import applicable_slips, simulate_student

TARGET = "hexyl_acetate"
THEORETICAL_G = 7.21  # 50.0 mmol of hexyl acetate, 144.21 g/mol (by hand)
TARE = 45.32
ORDINARY = 6.30  # inside what a careful student weighs: 5.9 to 6.9 g by the trade notes
ACCUSING = ("cheat", "invent", "fabricat", "copied", "lied", "careless", "wrong", "fault")


def weighed(tare: float, *gross: float, **more: object) -> Readings:
    weighings = (Weighing("tare", tare), *(Weighing("gross", g) for g in gross))
    return Readings(targets={TARGET: TargetReadings(weighings, **more)})


def net(mass_g: float, **more: object) -> Readings:
    full = round(TARE + mass_g, 2)
    return weighed(TARE, full, full, **more)


def diagnosed(record: Readings, **changes: object) -> tuple[Hypothesis, ...]:
    exercise = replace(library_exercise("too-much-vinegar"), **changes)
    return assess(exercise, None, record, draws=60).diagnosis


def keys(record: Readings, first: int = 3) -> list[str]:
    return [h.key for h in diagnosed(record)[:first]]


def chance(record: Readings, key: str) -> float:
    return next((h.probability for h in diagnosed(record) if h.key == key), 0.0)


def test_probabilities_are_ranked_and_sum_to_one_but_for_the_traces_left_out() -> None:
    found = diagnosed(net(ORDINARY))
    probabilities = [h.probability for h in found]
    assert probabilities == sorted(probabilities, reverse=True)
    assert min(probabilities) >= LEAST_SHOWN
    assert 1.0 - len(SLIPS) * LEAST_SHOWN <= sum(probabilities) <= 1.0 + 1e-6


def test_a_flask_with_nothing_but_solvent_in_it_has_probabilities_too() -> None:
    """The rinse of an empty vial: no product to hold the solvent against."""
    plan = Plan((
        Tare(id="tare-vial", flask="vial"), Tare(id="tare", flask="flask"),
        Transfer(id="pour", flask="vial", into="flask", rinse_with="mtbe", rinse_mL=10.0,
                 rinses=1),
        Strip(id="strip", flask="flask", bath_C=30.0, pressure_mbar=300.0, hold_min=1.0),
        Weigh(id="weigh", flask="flask")))
    record = replace(net(2.0), steps=tuple(DoneStep(s, "done") for s in plan.steps))
    found = assess(library_exercise("too-much-vinegar"), plan, record, draws=60).diagnosis
    assert found
    assert sum(h.probability for h in found) == pytest.approx(1.0, abs=len(SLIPS) * LEAST_SHOWN)


def test_without_a_tare_or_a_full_reading_there_is_nothing_to_explain() -> None:
    for weighings in ((), (Weighing("tare", TARE),), (Weighing("gross", 51.0),)):
        assert diagnosed(Readings(targets={TARGET: TargetReadings(weighings)})) == ()


def test_an_ordinary_mass_is_nothing_wrong() -> None:
    assert keys(net(ORDINARY), 1) == ["nothing-wrong"]


def test_the_same_record_gives_the_same_diagnosis_to_the_last_digit() -> None:
    assert diagnosed(net(5.31)) == diagnosed(net(5.31))


# Recording slips.

def test_tare_and_gross_in_each_others_place_is_first() -> None:
    assert keys(weighed(TARE + ORDINARY, TARE, TARE), 1) == ["tare-gross-swapped"]


def test_a_full_flask_lighter_than_the_empty_one_by_another_amount_is_no_swap() -> None:
    found = keys(weighed(TARE, TARE - 1.42, TARE - 1.42))
    assert found[0] != "tare-gross-swapped"
    assert {"object-at-tare", "another-flask"} & set(found)


def test_two_digits_that_changed_places_in_one_full_reading_are_seen_by_the_other() -> None:
    # Readings 51.62 and 51.62, the last written 56.12: a difference divisible by 9.
    found = diagnosed(weighed(TARE, 51.62, 56.12))
    assert found[0].key == "digits-swapped"
    assert found[0].probability > 0.9


def test_two_digits_that_changed_places_in_the_tare_are_among_three() -> None:
    assert "digits-swapped" in keys(weighed(43.52, 51.62, 51.62))


def test_on_a_finer_balance_48_372_and_48_327_are_one_swap_apart() -> None:
    exercise = library_exercise("too-much-vinegar")
    fine = replace(exercise.setup.glassware, balance_readability_g=0.001)
    setup = replace(exercise.setup, glassware=fine)
    tare = 48.372 - ORDINARY
    record = Readings(targets={TARGET: TargetReadings((
        Weighing("tare", tare, readability_g=0.001),
        Weighing("gross", 48.372, readability_g=0.001),
        Weighing("gross", 48.327, readability_g=0.001)))})
    found = assess(replace(exercise, setup=setup), None, record, draws=60).diagnosis
    assert found[0].key == "digits-swapped"


def test_milligrams_written_as_grams_are_first() -> None:
    assert keys(weighed(TARE, 51_620.0, 51_620.0), 1) == ["factor-1000"]
    assert keys(weighed(45_320.0, 51_620.0, 51_620.0), 1) == ["factor-1000"]


def test_a_decimal_point_one_place_off_is_first() -> None:
    assert keys(weighed(453.2, 51.62, 51.62), 1) == ["wrong-decimal"]
    assert keys(weighed(TARE, 51.62, 516.2), 1) == ["wrong-decimal"]


@pytest.mark.parametrize(("item", "mass_g"), [("stir bar", 3.4), ("stopper", 11.0)])
def test_a_thing_ticked_at_the_full_weighing_only_is_first(item: str, mass_g: float) -> None:
    full = round(TARE + ORDINARY + mass_g, 2)
    weighings = (Weighing("tare", TARE), *(
        Weighing("gross", full, on_pan=("flask", item)) for _ in range(2)))
    found = diagnosed(Readings(targets={TARGET: TargetReadings(weighings)}))
    assert found[0].key == "object-at-gross"
    assert any(item in line for line in found[0].evidence)


def test_different_flask_numbers_point_to_another_flask() -> None:
    weighings = (Weighing("tare", TARE, "12"), Weighing("gross", TARE + 8.9, "21"),
                 Weighing("gross", TARE + 8.9, "21"))
    assert keys(Readings(targets={TARGET: TargetReadings(weighings)}), 1) == ["another-flask"]


def test_a_flask_that_gains_from_one_reading_to_the_next_was_weighed_warm() -> None:
    # 50 mL beaker three minutes from 110 °C: 13.9 mg light (trade notes, S30); a large flask more.
    assert keys(weighed(TARE, 51.56, 51.62), 1) == ["weighed-warm"]


def test_a_falling_mass_points_to_solvent() -> None:
    assert keys(weighed(TARE, 52.90, 52.55), 1)[0] in ("solvent-left", "not-constant")


# Technique.

def test_a_yield_of_128_per_cent_points_to_what_is_weighed_with_the_product() -> None:
    heavy = {"solvent-left", "not-constant", "agent-in-flask", "aqueous-carried-over",
             "acid-left", "object-at-gross", "another-flask"}
    assert set(keys(net(1.28 * THEORETICAL_G))) - {SOMETHING_ELSE} <= heavy


def test_grit_in_a_heavy_flask_points_to_the_drying_agent() -> None:
    grit = (Witness("appearance", "white grit at the bottom", agrees=False),)
    assert keys(net(7.40, witnesses=grit), 1)[0] in ("agent-in-flask", "fines")


def test_a_smell_of_solvent_moves_a_heavy_mass_towards_solvent() -> None:
    smell = (Witness("odour", "smells of MTBE", agrees=False),)
    clean = (Witness("odour", "only of the product", agrees=True),)
    assert chance(net(7.2, witnesses=smell), "solvent-left") > (
        2 * chance(net(7.2, witnesses=clean), "solvent-left"))


def test_a_sour_smell_moves_a_heavy_mass_towards_acid() -> None:
    sour = (Witness("odour", "sharp, like vinegar", agrees=False),)
    assert keys(net(7.3, witnesses=sour), 1) == ["acid-left"]


def test_next_to_nothing_in_the_flask_points_to_the_lost_layer() -> None:
    assert keys(net(0.08), 1) == ["wrong-layer"]


def test_clumped_agent_far_below_the_need_is_too_little() -> None:
    record = replace(net(ORDINARY), drying=(
        DryingRecord("dry", 0.2, 1, "clumped", "clear", 10.0),))
    assert keys(record, 1) == ["too-little-agent"]


def test_a_spot_of_starting_material_moves_a_low_mass_towards_the_reaction() -> None:
    spot = (Witness("TLC", "second spot, level with the alcohol", agrees=False),)
    one = (Witness("TLC", "one spot", agrees=True),)
    assert chance(net(5.85, witnesses=spot), "incomplete-reaction") > (
        2 * chance(net(5.85, witnesses=one), "incomplete-reaction"))


def test_a_mass_beyond_any_slip_stays_something_else() -> None:
    assert keys(net(-23.0), 1)[0] in (SOMETHING_ELSE, "object-at-tare")
    assert chance(net(3000.0), SOMETHING_ELSE) > 0.5


# What is said.

def test_there_are_at_least_eighteen_explanations_each_with_prior_and_question() -> None:
    assert set(MAKERS) | {SOMETHING_ELSE} == set(SLIPS)
    assert len(SLIPS) >= 18
    assert sum(priors({}).values()) == pytest.approx(1.0)
    assert all(s.prior > 0 and s.reason for s in SLIPS.values())


def test_every_explanation_comes_with_numbers_and_an_open_question() -> None:
    exercise = library_exercise("too-much-vinegar")
    for slip in applicable_slips(exercise, exercise.model_plan)[::4]:
        student = simulate_student(exercise, 3, slip, plan=exercise.model_plan)
        for h in assess(exercise, student.plan, student.readings, draws=30).diagnosis:
            assert h.question.endswith("?")
            assert re.search(r"\d", h.evidence[0])
            assert h.expected is not None


def test_nothing_that_is_said_accuses_or_offers_a_number_to_write_instead() -> None:
    right = 51.62
    found = [*diagnosed(weighed(TARE, right, 56.12)), *diagnosed(weighed(43.52, right, right)),
             *diagnosed(weighed(right, TARE, TARE)), *diagnosed(net(1.28 * THEORETICAL_G))]
    asked = [slip.question for slip in SLIPS.values()]
    said = " ".join([*asked, *(e for h in found for e in h.evidence)]).casefold()
    said = said.replace("nothing wrong", "")
    assert not [word for word in ACCUSING if word in said]
    assert "51.62" not in " ".join(e for h in found[:1] for e in h.evidence)


def test_an_exercises_own_prior_moves_the_ranking() -> None:
    record = net(6.62)
    before = chance(record, "solvent-left")
    after = diagnosed(record, priors={"solvent-left": 5.0})
    assert after[0].key == "solvent-left"
    assert after[0].probability > before


def test_a_slip_on_one_of_three_targets_is_found_and_named() -> None:
    exercise = library_exercise("three-in-one-bottle")
    student = simulate_student(exercise, 4, "tare-gross-swapped", plan=exercise.model_plan)
    found = assess(exercise, student.plan, student.readings, draws=40).diagnosis[0]
    assert found.key == "tare-gross-swapped"
    low = [t for t, r in student.readings.targets.items()
           if r.weighings[-1].mass_g < r.weighings[0].mass_g]
    named = low[0].replace("_", "")[:10]
    assert named in found.evidence[0].casefold().replace("-", "").replace(",", "")
