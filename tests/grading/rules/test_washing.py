"""What a wash takes out, leaves in or destroys."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.explanation.values_used import values_used
from workups.grading.assessment import Strength

from .labs import (
    Lab,
    amine,
    charged,
    ether,
    finished,
    grignard,
    heavy,
    in_cosolvent,
    library,
    made_up,
    shaken,
    three,
    vinegar,
)
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)


def for_an_aldehyde(bottle: str) -> Lab:
    """An ester beside an aldehyde, washed with water and then with a bottle made for it."""
    return made_up(
        (charged("ethyl_benzoate", g=3.0), charged("benzaldehyde", g=0.3),
         charged("mtbe", mL=40.0)),
        ("ethyl_benzoate",), ("mtbe", "water", "brine", bottle, "sodium_sulfate"),
        (shaken(p.Wash, "water", START_FLASK, "water", 20.0, portions=3),
         shaken(p.Wash, "made-for-it", "organic", bottle, 20.0, aside="adduct"),
         *finished("organic", "mtbe")))


TABLES: Tables = {
    "product-washed-out": Table(
        breaks={
            "an amine washed with acid": lambda: amine().without(
                "clean", "basify", "extract", "label-acid").edited(
                    "brine", flask="neutral", keep_in="organic"),
            "an acid washed out with base, the washings poured away": lambda: three().edited(
                "take-acid", other_in="waste").without(
                    "label-a", "acidify", "test-a", "tare-a", "collect-a", "weigh-a",
                    "discard-acid"),
        },
        keeps={"a neutral product": ether, "salts kept and brought back": three},
        looks_wrong={
            "an extra water wash": lambda: vinegar().edited("wash-water", portions=3),
            "an ester washed with acid": lambda: heavy().edited("base", material="hcl_1m"),
        },
    ),
    "strong-base-on-ester": Table(
        breaks={"hydroxide for hydrogencarbonate": lambda: vinegar().edited(
            "wash-bicarbonate", material="naoh_1m")},
        keeps={"hydrogencarbonate": vinegar},
        looks_wrong={
            "a cold hydroxide wash that hydrolyses next to nothing": lambda: vinegar().edited(
                "wash-water", portions=3).edited(
                "wash-bicarbonate", material="naoh_1m", volume_mL=10.0, portions=1),
            "hydroxide on an ether": lambda: ether().edited("wash-water", material="naoh_1m"),
            "hydroxide on an ester that hardly dissolves in it, no rate stated": heavy,
        },
    ),
    "acid-on-sensitive-product": Table(
        breaks={
            "3 M acid on a tertiary alcohol": lambda: grignard().edited(
                "brine", material="hcl_3m"),
            "3 M acid for the quench": lambda: grignard().edited("quench", material="hcl_3m"),
        },
        keeps={"ammonium chloride": grignard},
        looks_wrong={"3 M acid on an ether": lambda: ether().offering("hcl_3m").edited(
            "wash-water", material="hcl_3m")},
    ),
    "acid-left-in-product": Table(
        breaks={"no bicarbonate": lambda: vinegar().without(
            "wash-bicarbonate", "test-washings", "discard-bicarbonate")},
        keeps={"bicarbonate until basic": vinegar},
        looks_wrong={"no acid in the flask": ether},
    ),
    "wash-without-effect": Table(
        breaks={"a third water wash": heavy},
        keeps={
            "a wash that takes the ethanol": ether,
            "bisulfite for an aldehyde, which is not simulated": lambda: for_an_aldehyde(
                "nahso3_10pct"),
            "thiosulfate for traces of iodine": lambda: for_an_aldehyde("na2s2o3_10pct"),
        },
    ),
}


@pytest.mark.parametrize("bottle", ["nahso3_10pct", "na2s2o3_10pct", "nh4cl_sat"])
def test_nothing_at_all_is_said_of_a_wash_that_reacts_where_the_model_does_not(bottle) -> None:
    told = {h.breach.step for h in found("wash-without-effect", for_an_aldehyde(bottle))}
    assert "made-for-it" not in told
    assert "made-for-it" in {
        h.breach.step for h in found("wash-without-effect", for_an_aldehyde("na2so4_10pct"))}


def test_a_wash_without_effect_never_loses_marks() -> None:
    assert all(h.fair for h in found("wash-without-effect", heavy()))


def test_the_instructors_limit_for_losses_in_washings_is_kept() -> None:
    lab = in_cosolvent("acetone", 2.0, "4_methoxybenzyl_alcohol").edited("water", portions=2)
    [strict] = found("product-washed-out", lab.choosing("wash_loss_limit_percent", "2"))
    [easy] = found("product-washed-out", lab.choosing("wash_loss_limit_percent", "50"))
    assert strict.cost is not None
    assert 0.02 < strict.cost.lost.nominal < 0.5
    assert strict.remark.strength is Strength.PRODUCT_LOSS
    assert easy.fair


def stating_nothing(lab: Lab) -> Lab:
    """The same lab whose author has typed no rate."""
    setup = replace(lab.exercise.setup, slow_reactions=())
    return replace(lab, exercise=replace(lab.exercise, setup=setup))


def test_hydroxide_on_an_ester_is_seen_without_a_stated_rate_and_costs_what_is_missing() -> None:
    """The band of the class is said, no points are set: the ledger charges what is missing."""
    lab = vinegar().edited("wash-bicarbonate", material="naoh_1m", portions=4)
    [stated], [assumed] = (found("strong-base-on-ester", one)
                           for one in (lab, stating_nothing(lab)))
    low, high = assumed.remark.numbers[0].low, assumed.remark.numbers[0].high
    assert low is not None
    assert high is not None
    assert low < stated.remark.numbers[0].value < high
    assert "uncertain: between" in assumed.remark.message
    assert "assumed for every ester" in assumed.remark.message
    assert "assumed" not in stated.remark.message
    assert assumed.remark.score_loss == 0.0


def test_an_author_sees_the_assumed_rate_among_the_values_from_memory() -> None:
    exercise = stating_nothing(vinegar()).exercise
    [rate] = [v for v in values_used(exercise) if "rate with base" in v.what]
    assert "assumed for every ester" in rate.what
    assert rate.grade_words == "from memory: check"


def test_what_acid_destroys_is_shown_with_its_band() -> None:
    [hit] = found("acid-on-sensitive-product", grignard().edited("brine", material="hcl_3m"))
    number = hit.remark.numbers[0]
    assert number.low is not None
    assert number.low < number.value


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_a_wash_that_takes_product_is_not_said_to_find_nothing() -> None:
    """One step, one word: what carries the product away cannot be left out as harmless."""
    lab = library("there-and-back").before("dry", p.Wash(
        id="acid", flask="amine layer", material="hcl_1m", volume_mL=40.0, keep_in="amine layer",
        other_in="washings", swirl_open=True))
    assert any(h.breach.step == "acid" for h in found("product-washed-out", lab))
    assert not any(h.breach.step == "acid" for h in found("wash-without-effect", lab))


def test_a_wash_after_strong_acid_is_not_said_to_find_nothing() -> None:
    """The drops of it weigh next to nothing, and the next wash is there for them."""
    acid = library("handle-gently").edited("quench", material="hcl_3m")
    told = {h.breach.step for h in found("wash-without-effect", acid)}
    assert "wash-water" not in told


def test_an_organic_layer_put_aside_at_a_wash_is_not_product_in_the_water() -> None:
    lab = vinegar().edited("wash-bicarbonate", keep="lower", other_in="waste").without(
        "test-washings", "discard-bicarbonate")
    [hit] = found("product-washed-out", lab)
    assert "in the organic layer" in hit.remark.message
    assert "water" not in hit.remark.message
    assert any(h.breach.step == "wash-bicarbonate" for h in found("product-layer-put-aside", lab))
