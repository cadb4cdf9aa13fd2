"""Every planted mistake is found, with its computed consequence, and charged once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry.plan import Extract, Plan
from workups.grading.assess import assess
from workups.grading.assessment import Strength
from workups.grading.points.charges import follows_from_a_cause

from .planted import (
    DRAWS,
    assessed,
    check,
    exercise,
    finding,
    findings,
    number,
    polar_product_exercise,
)


def test_a_discarded_product_layer_loses_the_product_and_the_order_points() -> None:
    result = assessed("product-layer-discarded")
    found = finding(result, "product-layer-put-aside")
    assert found.strength is Strength.PRODUCT_LOSS
    assert number(found, "share of the product in the layer put aside") > 95
    assert number(found, "product lost") > 85
    assert check(result, "order").score < 0.1


def test_what_follows_from_the_discarded_layer_is_shown_but_not_charged_again() -> None:
    result = assessed("product-layer-discarded")
    cause = finding(result, "product-layer-put-aside").cause
    others = [f for f in findings(result) if f.code != "product-layer-put-aside"]
    assert others
    follows = [f for f in others if f.cause == cause and not follows_from_a_cause(f)]
    assert not any(f.charged for f in follows)
    assert [f.code for f in check(result, "drying").findings if f.charged] == ["ledger-not-there"]


def test_one_portion_where_the_goal_needs_more_is_below_the_goal() -> None:
    polar = polar_product_exercise()
    one = Plan(tuple(replace(s, portions=1, volume_mL=15.0) if isinstance(s, Extract) else s
                     for s in polar.model_plan.steps))
    result = assess(polar, one, draws=DRAWS)
    found = finding(result, "recovery-below-goal")
    # Limiting form with K 4: 15 mL MTBE and 8 mL of the ester and alcohol themselves on about
    # 37 mL of water and acid: 4*23/(37 + 4*23) = 0.71; the acid shared by both layers moves it.
    assert 55 < number(found, "recovered") < 85
    assert number(found, "goal") == 95
    assert check(result, "extraction").score < 0.6


def test_the_water_wash_skipped_makes_gas_and_leaves_acid() -> None:
    result = assessed("water-wash-skipped")
    gas = finding(result, "carbonate-before-water")
    # Both at the cautious end, of the plan as written: the carbonate is used up before all the
    # acid has made its gas, so that they come near each other.
    assert number(gas, "gas, dry") > 1.05 * number(gas, "gas after a water wash")
    acid = finding(result, "acid-left-in-product")
    assert number(acid, "acid in the product") > 1.0


def test_brine_before_the_carbonate_with_none_after_is_advice_only() -> None:
    result = assessed("brine-before-bicarbonate")
    found = finding(result, "brine-not-last")
    assert found.strength is Strength.ADVICE
    assert check(result, "order").score == pytest.approx(0.9)


def test_drying_before_the_last_wash_is_found_and_leaves_more_water() -> None:
    result = assessed("drying-before-last-wash")
    found = finding(result, "wet-again-after-drying")
    assert found.charged
    assert check(result, "order").score < 0.7


def test_too_little_agent_misses_the_endpoint() -> None:
    result = assessed("too-little-agent")
    found = finding(result, "too-little-agent")
    assert number(found, "agent needed") > 2 * number(found, "agent")
    assert check(result, "drying").score < 0.9
    assert check(result, "order").score == 1.0


def test_no_filtration_weighs_the_agent_with_the_product() -> None:
    result = assessed("no-filtration")
    found = finding(result, "agent-not-filtered")
    assert found.strength is Strength.PRODUCT_LOSS
    assert number(found, "water, salt and drying agent in the product") > 10


def test_a_flask_without_tare_is_found_once() -> None:
    result = assessed("not-tared")
    assert [f.code for f in findings(result) if f.charged] == ["flask-not-tared"]


def test_a_stoppered_carbonate_wash_waits_for_a_ta_with_gas_and_pressure() -> None:
    result = assessed("bicarbonate-stoppered-at-once")
    found = finding(result, "carbonate-stoppered")
    assert found.strength is Strength.SAFETY_HOLD
    assert number(found, "gas, dry") > 50
    assert number(found, "pressure above the air's") > 50
    assert result.safety_holds == ("carbonate-stoppered",)


def test_hydroxide_on_the_ester_is_found_with_the_share_it_hydrolyses() -> None:
    result = assessed("naoh-instead-of-bicarbonate")
    found = finding(result, "strong-base-on-ester")
    assert number(found, "product hydrolysed") > 0
    assert number(found, "pH") > 12
    assert found.strength is Strength.ADVICE


def test_gross_below_tare_is_asked_about_and_never_accused() -> None:
    result = assessed("model", "gross-below-tare")
    found = finding(result, "gross-below-tare")
    assert found.question
    assert not found.charged


def test_a_yield_of_128_per_cent_is_not_credited_and_asks_for_an_explanation() -> None:
    """Its smell of solvent, which is on record, gives half; one reading for two takes a tenth."""
    result = assessed("model", "yield-128")
    [reading] = result.readings
    assert reading.percent == pytest.approx(128, abs=1)
    found = finding(result, "above-theoretical")
    assert found.charged
    assert "cloudy" in found.message
    assert found.score_loss == 0.5
    assert check(result, "yield").score == pytest.approx(0.4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_same_inputs_give_the_same_assessment_to_the_last_digit(seed: int) -> None:
    ours = exercise()
    assert assess(ours, draws=40, seed=seed) == assess(ours, draws=40, seed=seed)
