"""Points for a mass: the curve at its corners, what was explained, slips, and the own expectation.

The numbers of the corners are worked out by hand from the sentence at `yield_score`.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Plan, Strip, Tare, Transfer, Weigh
from workups.chemistry.readings import (
    DoneStep,
    DryingRecord,
    Readings,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.run import continue_run, prepare
from workups.chemistry.setup import Reaction
from workups.chemistry.yields import Mass
from workups.documents import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Band, CheckResult, Finding, TargetYield
from workups.grading.expected import weighed_mass
from workups.grading.recorded.clerical import cannot_be
from workups.grading.recorded.yieldcheck import (
    Product,
    YieldJudgement,
    judge_yield,
    place,
    yield_score,
)
from workups.grading.rule import band
from workups.invented_students.mistakes import planning_mistakes

ETHER = library_exercise("plain-ether")
TARGET = "1_butoxy_4_methylbenzene"
# 2.74 g of 1-bromobutane, 137.02 g/mol, is 20.00 mmol; times 164.25 g/mol (by hand).
THEORY_G = 3.284
BAND = Band(2.95, 2.77, 3.13)
WIDE = Band(2.0, 1.2, 2.8)
EMPTY = Band(0.0, -0.02, 0.02)
FAR = 99.0
TARE = 50.00


# The curve.

@pytest.mark.parametrize(("mass", "given", "most", "points"), [
    (2.95, BAND, 3.30, 1.0),
    (2.77, BAND, 3.30, 1.0),
    (3.13, BAND, 3.30, 1.0),
    (2.23, BAND, 3.30, 0.634),          # 1.5 widths below: 0.54 g of 1.475 g
    (2.0325, BAND, 3.30, 0.5),          # half of half the nominal mass below
    (1.295, BAND, 3.30, 0.0),
    (0.5, BAND, 3.30, 0.0),
    (3.30, BAND, 3.30, 0.885),          # 0.17 g above
    (3.67, BAND, 3.30, 0.383),          # 1.5 widths above, 0.37 g of it above theory, twice
    (3.67, BAND, FAR, 0.634),           # the same where that much may be there
    (4.20, BAND, 3.284, 0.0),           # 128 %
    (0.6, WIDE, FAR, 0.5),              # down to an empty flask: 0.6 g of 1.2 g
    (0.0, WIDE, FAR, 0.0),
    (4.0, WIDE, FAR, 0.5),              # 1.5 widths are 2.4 g
    (0.0, EMPTY, FAR, 1.0),
    (-1.0, EMPTY, FAR, 0.0),
    (-1.0, BAND, FAR, 0.0),
])
def test_points_fall_with_the_distance_from_the_band(
    mass: float, given: Band, most: float, points: float
) -> None:
    assert yield_score(mass, 0.0, given, most) == pytest.approx(points, abs=6e-4)


def test_the_band_is_widened_by_two_standard_uncertainties() -> None:
    assert yield_score(2.67, 0.05, BAND, FAR) == 1.0
    assert yield_score(2.62, 0.05, BAND, FAR) == pytest.approx(1 - 0.05 / 1.475)
    assert yield_score(3.28, 0.05, BAND, FAR) == pytest.approx(1 - 0.05 / 1.475)
    assert [place(m, 0.05, BAND) for m in (2.66, 2.67, 3.23, 3.24)] == [
        "below", "inside", "inside", "above"]


def test_a_nominal_mass_outside_its_own_band_is_inside() -> None:
    assert yield_score(3.2, 0.0, Band(3.2, 2.8, 3.1), FAR) == 1.0
    assert yield_score(2.6, 0.0, Band(2.6, 2.8, 3.1), FAR) == 1.0
    assert place(2.6, 0.0, Band(2.6, 2.8, 3.1)) == "inside"


def test_the_curve_has_no_cliff() -> None:
    masses = np.linspace(0.0, 5.0, 5001)
    points = [yield_score(float(m), 0.01, BAND, 3.3) for m in masses]
    assert max(np.abs(np.diff(points))) < 0.002


# One target.

def weighed(*masses: float, **more: object) -> TargetReadings:
    gross = (Weighing("gross", round(TARE + m, 4)) for m in masses)
    return TargetReadings((Weighing("tare", TARE), *gross), **more)


def remarked(words: str, step: str = "extract") -> tuple[DoneStep, ...]:
    return tuple(DoneStep(s, "done", remark=words if s.id == step else "")
                 for s in ETHER.model_plan.steps)


def judged(
    record: TargetReadings, given: Band = BAND, remark: str = "", **more: Any
) -> YieldJudgement:
    steps = remarked(remark) if remark else ()
    readings = Readings(steps=steps, targets={TARGET: record})
    return judge_yield(ETHER.setup, TARGET, readings, BAND, given, **more)


def codes(judgement: YieldJudgement) -> list[str]:
    return [f.code for f in judgement.findings]


def test_a_mass_inside_the_band_is_full_marks_and_nothing_is_said() -> None:
    for mass in (2.74, 2.95, 3.16):
        assert (judged(weighed(mass, mass)).score, codes(judged(weighed(mass, mass)))) == (1.0, [])


def test_a_crude_that_weighs_what_it_should_is_never_above_theory() -> None:
    crude = Band(4.1, 3.9, 4.3)
    assert (judged(weighed(4.1), crude).score, codes(judged(weighed(4.1), crude))) == (1.0, [])
    found = judged(weighed(4.4, 4.4), crude)
    assert codes(found) == ["above-theoretical"]
    # JCGM 100 by hand: two full readings 0.0076, tare 0.0104, reagent 0.0147 * 4.1 / 2.74 g
    u = math.hypot(0.0076, 0.0104, 0.0220)
    assert found.score == pytest.approx(1 - 2 * (0.1 - 2 * u) / 2.05, abs=0.005)


def test_what_is_above_the_band_and_below_theory_is_not_called_more_than_there_can_be() -> None:
    assert codes(judged(weighed(3.25, 3.25))) == ["yield-above-band"]
    assert codes(judged(weighed(3.50, 3.50))) == ["above-theoretical"]
    assert codes(judged(weighed(2.30, 2.30))) == ["yield-below-band"]


def test_theory_has_the_uncertainty_of_the_limiting_reagents_weighing() -> None:
    """A tenth of the amount on the same balance: its 0.015 g are 5 % and widen the band by 10 %."""
    reaction = ETHER.setup.reaction
    small = tuple(
        replace(r, mass_g=r.mass_g / 10) if r.mass_g else replace(r, volume_mL=r.volume_mL / 10)
        for r in reaction.reagents
    )
    setup = replace(ETHER.setup, reaction=replace(reaction, reagents=small))
    assert isinstance(setup.reaction, Reaction)
    tenth = Band(0.295, 0.277, 0.313)
    u = math.sqrt(2) * math.sqrt(0.01**2 / 12 + 0.01**2)  # JCGM 100, two readings, by hand
    low = 0.277 - 2 * math.hypot(u, 0.295 * u / 0.274)
    for mass, inside in ((low + 0.002, True), (low - 0.003, False)):
        readings = Readings(targets={TARGET: TargetReadings(
            (Weighing("tare", TARE), Weighing("gross", TARE + mass)))})
        found = judge_yield(setup, TARGET, readings, tenth, tenth)
        assert (found.found.in_done_band == "inside") is inside
        assert (found.found.in_class_band == "inside") is inside
        assert (found.score == 1.0) is inside


# What was explained.

BELOW, ABOVE = 2.02, 3.60


@pytest.mark.parametrize("words", [
    "The stopcock leaked, about a third on the bench.",
    "Spilt a little",
    "lost some at the tap",
    "Did not see it at first, but the funnel leaked.",
    "the flask bumped",
    "vial broke",
])
def test_a_loss_written_down_at_the_bench_costs_half(words: str) -> None:
    plain, told = judged(weighed(BELOW, BELOW)), judged(weighed(BELOW, BELOW), remark=words)
    assert plain.score == pytest.approx(0.51, abs=0.02)
    assert 1 - told.score == pytest.approx((1 - plain.score) / 2, abs=2e-6)
    assert words in told.findings[0].message
    assert "half" in told.findings[0].message
    assert "not in the record" in plain.findings[0].change
    assert "not in the record" not in told.findings[0].change


@pytest.mark.parametrize("words", [
    "Nothing was spilled.",
    "no leak",
    "emulsion broke after five minutes",
    "close to the mark",
    "added dropwise, foamed",
    "all went well",
])
def test_words_that_tell_of_no_loss_change_nothing(words: str) -> None:
    assert judged(weighed(BELOW, BELOW), remark=words).score == judged(weighed(BELOW, BELOW)).score


@pytest.mark.parametrize("witness", [
    Witness("odour", "smells of solvent", agrees=False),
    Witness("odour", "of ether"),
    Witness("appearance", "cloudy"),
    Witness("TLC", "a second spot"),
    Witness("mp", "far too low", agrees=False, low_C=20.0),
])
def test_a_sign_that_something_else_is_in_the_flask_costs_half(witness: Witness) -> None:
    plain = judged(weighed(ABOVE, ABOVE))
    told = judged(weighed(ABOVE, ABOVE, witnesses=(witness,)))
    assert 0.2 < plain.score < 0.6
    assert 1 - told.score == pytest.approx((1 - plain.score) / 2, abs=2e-6)


def test_an_explanation_must_fit_the_direction() -> None:
    solvent = Witness("odour", "smells of solvent", agrees=False)
    clean = Witness("odour", "of the product only", agrees=True)
    assert judged(weighed(BELOW, witnesses=(solvent,))).score == judged(weighed(BELOW)).score
    assert judged(weighed(ABOVE, witnesses=(clean,))).score == judged(weighed(ABOVE)).score
    assert judged(weighed(ABOVE), remark="some spilled").score == judged(weighed(ABOVE)).score
    assert judged(weighed(ABOVE), remark="still smells").score > judged(weighed(ABOVE)).score


def test_what_the_report_says_afterwards_is_left_to_the_ta() -> None:
    told = judged(weighed(BELOW, explanation="I spilled a third of it."))
    assert told.score == judged(weighed(BELOW)).score


# Entries that cannot be.

def entries(*weighings: tuple[str, float], **more: object) -> TargetReadings:
    return TargetReadings(tuple(Weighing(kind, mass) for kind, mass in weighings), **more)


SLIPS = {
    "swapped": entries(("tare", 52.95), ("gross", 50.00), ("gross", 50.00)),
    "milligrams": entries(("tare", 50000.0), ("gross", 52950.0), ("gross", 52950.0)),
    "gross in milligrams": entries(("tare", 50.0), ("gross", 52950.0), ("gross", 52950.0)),
    "decimal": entries(("tare", 500.0), ("gross", 52.95), ("gross", 52.95)),
    "decimal, too low": entries(("tare", 5.0), ("gross", 52.95), ("gross", 52.95)),
    "decimal of one": entries(("tare", 50.0), ("gross", 52.95), ("gross", 529.5)),
    "digits": entries(("tare", 50.0), ("gross", 52.95), ("gross", 59.25)),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_in_writing_is_asked_about_and_costs_a_tenth(slip: str) -> None:
    record = SLIPS[slip]
    found = judged(record, charged_g=14.0)
    [finding] = found.findings
    assert (finding.code, finding.question) == ("entry-to-check", True)
    assert "check this entry" in finding.change
    assert found.score == pytest.approx(0.9)


@pytest.mark.parametrize("words", ["I swapped the two entries", "typed mg for g", "misread it"])
def test_a_slip_that_the_student_speaks_of_costs_nothing(words: str) -> None:
    for record in (SLIPS["swapped"], SLIPS["milligrams"]):
        assert judged(replace(record, explanation=words), charged_g=14.0).score == 1.0
        assert judged(record, remark=words, charged_g=14.0).score == 1.0


def test_a_slip_does_not_turn_a_poor_yield_into_a_good_one() -> None:
    low = entries(("tare", 50.0 + BELOW), ("gross", 50.0))
    assert judged(low).score == pytest.approx(judged(weighed(BELOW)).score - 0.1)


def test_an_entry_that_can_be_is_not_called_a_slip() -> None:
    """1.42 g below the tare is no swap of a yield; 4.10 g can be on a balance."""
    other_flask = entries(("tare", 50.0), ("gross", 40.0))
    assert codes(judged(other_flask)) == ["yield-below-band"]
    assert judged(other_flask).score == 0.0
    assert "entry-to-check" not in codes(judged(weighed(4.10, 4.10), charged_g=14.0))
    assert "entry-to-check" not in codes(judged(weighed(3.30, 3.10), charged_g=14.0))


@pytest.mark.parametrize(("mass_g", "impossible"), [
    (-0.03, False), (-0.05, True), (14.03, False), (14.05, True), (2.95, False)])
def test_what_cannot_be_is_so_beyond_two_standard_uncertainties(
    mass_g: float, impossible: bool
) -> None:
    assert cannot_be(Mass(mass_g, 0.02), 14.0) is impossible


def test_a_slip_in_a_reading_that_does_not_count_costs_nothing() -> None:
    """The first full reading has its digits crossed; the mass is that of the last."""
    found = judged(entries(("tare", 50.0), ("gross", 59.25), ("gross", 52.95)), charged_g=14.0)
    assert (found.score, codes(found)) == (1.0, [])


def test_a_slip_that_leads_nowhere_is_not_suggested() -> None:
    """14.58 g left without a word: no unit, place or order of digits makes a yield of it."""
    found = judged(weighed(14.58, 14.58), charged_g=14.0)
    assert codes(found) == ["above-theoretical"]
    assert found.score == 0.0


def test_more_than_all_that_was_put_in_is_a_slip_from_there_on_only() -> None:
    milligrams = entries(("tare", 0.0), ("gross", 2950.0))
    assert codes(judged(milligrams, charged_g=2949.0)) == ["entry-to-check"]
    assert codes(judged(milligrams, charged_g=2950.0)) == ["above-theoretical"]


def test_one_reading_where_the_plan_asks_for_two_costs_a_tenth() -> None:
    assert judged(weighed(2.95), asked=2).score == pytest.approx(0.9)
    assert codes(judged(weighed(2.95), asked=2)) == ["one-reading-recorded"]
    for record, asked in ((weighed(2.95), 1), (weighed(2.95, 2.95), 2), (weighed(2.95, 2.95), 3)):
        assert judged(record, asked=asked).score == 1.0


# No product, no points for it.

@pytest.mark.parametrize(("delivered", "points"), [
    (1.0, 1.0), (0.25, 1.0), (0.2, 18 / 23), (0.135, 0.5), (0.0775, 0.25), (0.02, 0.0), (0.0, 0.0),
    (-0.1, 0.0)])
def test_where_next_to_no_product_is_weighed_the_points_go_in_proportion(
    delivered: float, points: float
) -> None:
    found = judged(weighed(0.00, 0.00), EMPTY, product=Product(delivered))
    assert found.score == pytest.approx(points)
    assert codes(found) == ([] if points == 1.0 else ["next-to-no-product"])
    half = judged(weighed(2.0325 - 0.0294, 2.0325 - 0.0294), product=Product(delivered))
    assert half.score == pytest.approx(0.5 * points, abs=0.02)


@pytest.mark.parametrize(("pure", "delivered", "points", "code"), [
    (0.25, 1.0, 1.0, []), (0.135, 1.0, 0.5, ["mixture-weighed"]),
    (0.0, 1.0, 0.0, ["mixture-weighed"]), (0.54, 0.25, 0.5, ["mixture-weighed"]),
    (0.5, 0.155, 0.25, ["next-to-no-product"])])
def test_of_a_mixture_the_points_go_in_proportion_to_what_it_is_worth(
    pure: float, delivered: float, points: float, code: list[str]
) -> None:
    found = judged(weighed(2.95, 2.95), product=Product(delivered, pure))
    assert found.score == pytest.approx(points)
    assert codes(found) == code


@pytest.mark.parametrize("key", ["slow-to-leave", "plain-ether", "clinging-solvent"])
def test_weighing_a_ruined_product_never_pays(key: str) -> None:
    """A reaction mixture only stripped had all yield points again once its mass was written down;
    before there are readings it has none of them."""
    exercise = library_exercise(key)
    plan = Plan((Tare(id="tare", flask="vial"),
                 Transfer(id="pour", flask=START_FLASK, into="vial"),
                 Strip(id="strip", flask="vial", bath_C=60, pressure_mbar=20, hold_min=30),
                 Weigh(id="weigh", flask="vial")))
    planned = assess(exercise, plan, draws=24)
    [target] = planned.expected
    record = own_readings(target.target, target.plan_band.nominal)
    found = assess(exercise, plan, record, draws=24)
    [before], [after] = ([c.points for c in a.checks if c.name == "yield"]
                         for a in (planned, found))
    assert after == pytest.approx(before, abs=0.1)
    assert after < 3.0


def test_what_the_findings_cost_is_what_the_score_lost() -> None:
    for record, more in (
        (weighed(2.3), {"asked": 2}),
        (weighed(2.3), {"asked": 2, "product": Product(0.1)}),
        (SLIPS["swapped"], {"asked": 2, "charged_g": 14.0}),
    ):
        found = judged(record, **more)
        charged: list[Finding] = [f for f in found.findings if f.charged]
        assert found.score == pytest.approx(1 - sum(f.score_loss for f in charged), abs=1e-5)


# Product in two flasks.

def numbered(*weighings: tuple[str, float, str]) -> TargetReadings:
    return TargetReadings(tuple(Weighing(k, m, flask_number=n) for k, m, n in weighings))


def test_product_in_two_flasks_is_their_sum() -> None:
    both = numbered(("tare", 50.0, "7"), ("tare", 40.0, "8"), ("gross", 51.95, "7"),
                    ("gross", 41.0, "8"))
    assert judged(both).found.mass_g == pytest.approx(2.95)
    assert (judged(both).score, codes(judged(both))) == (1.0, [])
    assert judged(both).found.constant_mass is None
    assert codes(judged(both, asked=2)) == ["one-reading-recorded"]


def test_each_of_two_flasks_is_weighed_to_constant_mass() -> None:
    twice = [("tare", 50.0, "7"), ("tare", 40.0, "8"), ("gross", 51.95, "7"), ("gross", 51.95, "7"),
             ("gross", 41.0, "8"), ("gross", 41.01, "8")]
    assert judged(numbered(*twice)).found.constant_mass is True
    assert codes(judged(numbered(*twice), asked=2)) == []
    falling = numbered(*twice[:-1], ("gross", 40.95, "8"))
    assert judged(falling).found.constant_mass is False


def test_product_poured_over_is_not_counted_twice() -> None:
    poured = numbered(("tare", 50.0, "7"), ("gross", 52.97, "7"), ("tare", 40.0, "8"),
                      ("gross", 42.95, "8"))
    assert judged(poured).found.mass_g == pytest.approx(2.95)


# The own expectation.

def own_readings(target: str, mass_g: float) -> Readings:
    return Readings(targets={target: weighed(round(mass_g, 2), round(mass_g, 2))})


def plans(exercise: Exercise) -> dict[str, Plan]:
    """The model plan and all planted mistakes that the exercise has a place for."""
    return {"model": exercise.model_plan, **planning_mistakes(exercise)}


@pytest.mark.parametrize("key", library_names())
def test_what_the_own_steps_lead_to_is_full_marks(key: str) -> None:
    """Crude, wet, mixed or pure; and twenty draws of the band get nine tenths on average."""
    exercise = library_exercise(key)
    start = prepare(exercise.setup, Draws(1, 40))
    for name, plan in plans(exercise).items():
        run = continue_run(start, plan)
        for target in exercise.setup.targets:
            masses = weighed_mass(run, target.substance)
            own = band(masses, "g")

            def judge(mass_g: float, t: str = target.substance, own: Band = own) -> YieldJudgement:
                return judge_yield(
                    exercise.setup, t, own_readings(t, max(mass_g, 0.0)), own, own, asked=2)

            exact = judge(own.nominal)
            assert (exact.score, exact.findings) == (1.0, ()), (name, own, exact)
            drawn = [judge(float(m)).score for m in masses[1:21]]
            assert np.mean(drawn) >= 0.9, (name, own, drawn)


def _with_its_own_mass(mistake: str) -> tuple[TargetYield, CheckResult]:
    """The yield check of a planted mistake in the plan, weighed as it should come out."""
    plan = planning_mistakes(ETHER)[mistake]
    expected = assess(ETHER, plan, draws=40).expected[0].plan_band
    found = assess(ETHER, plan, own_readings(TARGET, expected.nominal), draws=40)
    assert found.readings[0].done_band == expected
    [check] = [c for c in found.checks if c.name == "yield"]
    return found.readings[0], check


def test_the_whole_assessment_of_the_own_expectation_has_full_yield_points() -> None:
    """Solvent left in: charged by the plan, and not once more for the mass."""
    found, check = _with_its_own_mass("no-hold-at-the-end")
    assert found.done_band is not None
    assert (check.score, check.findings) == (1.0, ())


def test_of_a_product_under_its_drying_agent_there_is_little_yield() -> None:
    """It is where it should be by these steps, and a mass of drying agent is no yield; nor is it
    said to be above what there can be."""
    found, check = _with_its_own_mass("agent-not-filtered")
    assert found.done_band is not None
    assert found.done_band.low > THEORY_G
    assert check.score < 0.6
    assert [f.code for f in check.findings] == ["mixture-weighed"]


@pytest.mark.parametrize("amounts", [
    {"1_bromobutane": 2.10},
    {"1_bromobutane": 3.30, "ethanol": 0.0},
    {"1_bromobutane": 0.0},
])
def test_what_was_really_used_and_done_is_what_a_mass_is_held_against(
    amounts: dict[str, float]
) -> None:
    """Other amounts, one portion for two, the brine left out and more agent: the own mass."""
    extract = ETHER.model_plan.steps[ETHER.model_plan.index("extract")]
    marks = {"extract": ("changed", replace(extract, portions=1)), "wash-brine": ("skipped", None)}
    steps = tuple(
        DoneStep(marks.get(s.id, ("", None))[1] or s, marks.get(s.id, ("done", None))[0])
        for s in ETHER.model_plan.steps)
    record = Readings(steps, amounts, own_readings(TARGET, 1.0).targets,
                      (DryingRecord("dry", agent_mass_g=6.0),))
    own = assess(ETHER, None, record, draws=40).readings[0].done_band
    assert own is not None
    mine = replace(record, targets=own_readings(TARGET, own.nominal).targets)
    [check] = [c for c in assess(ETHER, None, mine, draws=40).checks if c.name == "yield"]
    assert check.score == 1.0
    assert [f for f in check.findings if not f.question] == []


def test_a_product_without_a_mass_counts_nothing_for_its_share() -> None:
    three = library_exercise("three-in-one-bottle")
    bands = {e.target: e.plan_band for e in assess(three, draws=24).expected}
    records = {t: weighed(round(b.nominal, 2), round(b.nominal, 2)) for t, b in bands.items()}
    first = next(iter(records))
    for missing in (replace(records[first], weighings=records[first].weighings[1:]),
                    TargetReadings()):
        found = assess(three, None, Readings(targets={**records, first: missing}), draws=24)
        [check] = [c for c in found.checks if c.name == "yield"]
        assert check.score == pytest.approx(1 - 1 / len(records))
        assert "1 of" in check.note
