"""Which layer is which, what is kept, and how much is extracted."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import (
    Lab,
    bottom,
    changed_values,
    ether,
    heavy,
    in_cosolvent,
    in_water,
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


def _poured_once() -> Lab:
    """Dichloromethane poured into the drink and separated, in place of three extractions."""
    return bottom().swapped("extract", p.Separate(
        id="extract", flask=START_FLASK, keep="lower", keep_in="extracts",
        other_in="spent drink")).before("extract", p.Add(
            id="pour", flask=START_FLASK, material="dichloromethane", volume_mL=15.0))


def _poured_first() -> Lab:
    return _poured_once().edited("extract", keep_in="first").after(
        "extract", p.Extract(id="again", flask="spent drink", material="dichloromethane",
                             volume_mL=15.0, portions=2, keep="lower", keep_in="extracts",
                             other_in="spent drink"),
        p.Combine(id="combine", flasks=("first",), into="extracts"))


def _washed_between() -> Lab:
    return bottom().edited("extract", portions=1, keep_in="first").after(
        "extract",
        p.Wash(id="wash-first", flask="first", material="water", volume_mL=5.0, keep="lower",
               keep_in="extracts", other_in="washings"),
        p.Extract(id="again", flask="spent drink", material="dichloromethane", volume_mL=15.0,
                  portions=2, keep="lower", keep_in="extracts", other_in="spent drink"))


TABLES: Tables = {
    "product-layer-put-aside": Table(
        breaks={
            "the ether layer thrown away": lambda: ether().edited(
                "extract", keep="lower", portions=1),
            "the wrong layer kept, so that the second portion finds one layer": lambda: ether()
            .edited("extract", keep="lower"),
            "the same with dichloromethane": lambda: in_water("dichloromethane").edited(
                "extract", keep="upper"),
            "the upper layer kept with dichloromethane": lambda: heavy().edited(
                "base", keep="upper"),
            "the washed layer thrown away": lambda: vinegar().edited(
                "wash-water", keep="lower", other_in="waste"),
        },
        keeps={"upper kept with ether": ether, "lower kept with dichloromethane": heavy,
               "five times": lambda: in_water("dichloromethane")},
        looks_wrong={
            "the layer put aside is extracted again": lambda: ether().edited(
                "extract", portions=1).after("extract", p.Extract(
                    id="again", flask="aqueous layer", material="diethyl_ether", volume_mL=20.0,
                    keep_in="ether layer", other_in="aqueous layer")),
            "the salts of three components in three flasks": three,
            "a little product in a layer put aside": lambda: vinegar().edited(
                "extract", volume_mL=15.0),
        },
    ),
    "one-layer-only": Table(
        breaks={
            "ether into the ether layer": lambda: ether().edited(
                "wash-water", material="diethyl_ether", portions=1),
            "dichloromethane into the extracts, with drops of water on it": lambda: (
                bottom().after("extract", p.Extract(
                    id="again", flask="extracts", material="dichloromethane", volume_mL=15.0,
                    keep="lower", keep_in="extracts", other_in="spent drink"))),
        },
        keeps={"ether into the water": ether, "dichloromethane into the water": bottom},
        looks_wrong={
            "much ethanol: the model is not sure": lambda: in_cosolvent("ethanol", 80.0).edited(
                "dilute", volume_mL=40.0).edited("extract", portions=1, volume_mL=30.0),
        },
    ),
    "layers-may-invert": Table(
        breaks={"dichloromethane thinned until it is as light as water": lambda: heavy().before(
            "base", p.Add(id="thin", flask=START_FLASK, material="mtbe", volume_mL=40.0))},
        keeps={"dichloromethane": heavy, "ether": ether},
    ),
    "funnel-too-full": Table(
        breaks={
            "twice the water": lambda: ether().edited("quench", volume_mL=70.0),
            "more than it holds": lambda: ether().edited("quench", volume_mL=120.0),
            "one wash with a bottle of water": lambda: vinegar().edited(
                "wash-water", volume_mL=150.0),
        },
        keeps={"half full": vinegar},
    ),
    "poured-away-early": Table(
        breaks={
            "washings to the waste": lambda: vinegar().edited(
                "wash-water", other_in="waste"),
            "discarded before the weighing": lambda: ether().moved("discard-aqueous", "dry"),
        },
        keeps={"kept until weighed": vinegar},
    ),
    "recovery-below-goal": Table(
        breaks={
            "one small portion of a polar product": lambda: in_water(portions=1),
            "a polar product shaken once, by pouring in and separating": _poured_once,
        },
        keeps={"five portions": in_water},
        looks_wrong={
            "the first portion poured in and separated, two more extracted": _poured_first,
            "the first extract washed before the second is taken": _washed_between,
            "one portion where one is enough": vinegar,
            "three portions in flasks of their own, though little is left for the third":
                lambda: bottom().edited("extract", portions=1, keep_in="one").after(
                    "extract",
                    *(p.Extract(id=f"extract-{n}", flask="spent drink", volume_mL=15.0,
                                material="dichloromethane", keep="lower", keep_in=n,
                                other_in="spent drink") for n in ("two", "three")),
                    p.Combine(id="combine", flasks=("one", "two", "three"), into="extracts")),
            "a layer with the salt cleaned with solvent before it is set free":
                lambda: three().before("acidify", p.Extract(
                    id="clean", flask="flask A", material="mtbe", volume_mL=10.0,
                    keep_in="neutral washings", other_in="flask A")).before(
                    "basify", p.Extract(
                        id="clean-base", flask="flask B", material="mtbe", volume_mL=10.0,
                        keep_in="neutral washings", other_in="flask B")),
            "two portions in two steps": lambda: ether().edited("extract", portions=1).after(
                "extract", p.Extract(
                    id="again", flask="aqueous layer", material="diethyl_ether", volume_mL=20.0,
                    keep_in="ether layer", other_in="aqueous layer")),
        },
    ),
}


def test_the_share_in_the_layer_put_aside_is_shown() -> None:
    lab = ether().edited("extract", keep="lower", portions=1)
    [hit] = found("product-layer-put-aside", lab)
    assert hit.remark.strength is Strength.PRODUCT_LOSS
    assert hit.remark.numbers[0].value > 90
    assert hit.cost is not None
    assert hit.cost.lost.nominal > 0.9


def test_more_portions_are_named_where_they_reach_the_goal() -> None:
    [hit] = found("recovery-below-goal", in_water(portions=1))
    assert "portions of 30 mL reach it" in hit.remark.change


def test_what_is_left_after_pouring_in_and_separating_is_to_be_shaken_again() -> None:
    [hit] = found("recovery-below-goal", _poured_once())
    assert hit.remark.change.startswith("Shake what is left")
    assert hit.breach.mended is not None
    assert hit.cost is not None
    assert hit.cost.share_mended > hit.cost.share_before + 0.05


def test_a_funnel_that_cannot_hold_it_waits_for_a_ta_and_a_full_one_does_not() -> None:
    [full] = found("funnel-too-full", ether().edited("quench", volume_mL=70.0))
    [over] = found("funnel-too-full", ether().edited("quench", volume_mL=120.0))
    assert over.remark.score_loss == pytest.approx(0.3)
    assert full.remark.strength is not Strength.SAFETY_HOLD
    assert over.remark.strength is Strength.SAFETY_HOLD


def test_a_funnel_a_little_too_full_costs_a_little() -> None:
    losses = [found("funnel-too-full", ether().edited("quench", volume_mL=v))[0].remark.score_loss
              for v in (63.0, 66.0, 70.0)]
    assert losses == sorted(losses)
    assert losses[-1] < 0.1
    assert max(b - a for a, b in pairwise(losses)) < 0.03


def test_a_large_wash_is_mended_by_smaller_portions_and_says_so() -> None:
    [full] = found("funnel-too-full", vinegar().edited("wash-water", volume_mL=150.0, portions=1))
    assert full.cost is not None
    assert "or shake with 2 portions of 75 mL" in full.remark.change


def test_a_layer_poured_away_early_is_shown_with_the_product_in_it() -> None:
    [found_] = found("poured-away-early", vinegar().edited("wash-water", other_in="waste"))
    [number] = found_.remark.numbers
    assert 0.0 <= number.value < 1.0


def test_a_careless_cut_is_no_fault_of_the_plan() -> None:
    assert found("product-layer-put-aside", changed_values(ether(), organic_cut_mL=2.0)) == []


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_a_fixed_number_of_portions_is_told_as_the_number_it_is() -> None:
    """Three are asked for and one is shaken: two thirds of the check, and no word of a goal."""
    lab = ether().edited("extract", portions=1)
    lab = replace(lab, exercise=replace(lab.exercise, fixed_portions=3))
    [hit] = found("recovery-below-goal", lab)
    assert hit.remark.strength is Strength.CHOICE
    assert "asks for 3 portions; this plan shakes with 1" in hit.remark.message
    assert hit.remark.score_loss == pytest.approx(2 / 3)
    met = replace(lab, plan=ether().edited("extract", portions=3).plan)
    assert found("recovery-below-goal", met) == []
