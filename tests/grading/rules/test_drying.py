"""Whether it is dried, which layer, and how wet it comes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import plan as p
from workups.grading.assess import assess
from workups.grading.assessment import Strength

from ..planted import findings
from .labs import ether, grignard, heavy, hydride, in_water, neat, published, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

TABLES: Tables = {
    "not-dried": Table(
        breaks={
            "no drying agent": lambda: ether().without("dry"),
            "stripped straight from the funnel": lambda: ether().without(
                "dry", "filter", "tare").edited("strip", flask="ether layer").edited(
                    "weigh", flask="ether layer"),
            "one of two organic layers": lambda: three().without("dry-l"),
            "in no solvent, weighed as it was filtered": lambda: neat().without("dry"),
            "in no solvent, poured over and weighed": lambda: neat().without("dry").swapped(
                "filter", p.Transfer(id="filter", flask="ester layer", into="tared flask")),
        },
        keeps={"dried": ether, "both dried": three, "in no solvent, dried": neat},
        looks_wrong={
            "dried in two flasks and combined": lambda: in_water(portions=1).without(
                "brine", "dry", "filter").after(
                    "extract",
                    p.Extract(id="second", flask="aqueous", material="mtbe", volume_mL=30.0,
                              portions=3, keep_in="more", other_in="spent"),
                    p.Dry(id="dry", flask="organic", agent="sodium_sulfate"),
                    p.Dry(id="dry-2", flask="more", agent="sodium_sulfate"),
                    p.Filter(id="filter", flask="organic", into="filtrate"),
                    p.Filter(id="filter-2", flask="more", into="filtrate 2")).before(
                        "strip", p.Combine(id="one", flasks=("filtrate", "filtrate 2"),
                                           into="tared")),
            "dried, filtered, and poured on into a vial": lambda: ether().before(
                "strip", p.Tare(id="vial", flask="vial"),
                p.Transfer(id="over", flask="round-bottom flask", into="vial",
                           rinse_with="diethyl_ether", rinse_mL=2.0, rinses=2)).edited(
                               "strip", flask="vial").edited("weigh", flask="vial"),
            "a solid collected, never dried over an agent": three,
        },
    ),
    "wrong-layer-dried": Table(
        breaks={"agent into the water": lambda: ether().edited("dry", flask="aqueous layer")},
        keeps={"agent into the ether": ether},
    ),
    "visible-water": Table(
        breaks={
            "water poured in and not drawn off": lambda: vinegar().before("dry", p.Add(
                id="more", flask="organic layer", material="water", volume_mL=8.0)),
            "water on dichloromethane": lambda: heavy().before("dry", p.Add(
                id="more", flask="organic", material="water", volume_mL=8.0)),
        },
        keeps={"drawn off": grignard},
        looks_wrong={
            "a few settled drops": lambda: hydride().before("dry", p.Stand(
                id="wait", flask="organic", minutes=60.0)),
        },
    ),
}


def test_water_under_a_layer_is_one_mistake_and_the_agent_it_uses_up_is_none() -> None:
    """12 g of agent would have done; with 8 mL of water the missing 18 g took 12 points more."""
    lab = published("biaryl-zinc-ammonium-chloride").before("dry", p.Add(
        id="puddle", flask="extracts", material="water", volume_mL=8.0))
    codes = {f.code for f in findings(assess(lab.exercise, lab.plan, draws=8)) if f.charged}
    assert "visible-water" in codes
    assert "too-little-agent" not in codes


def test_an_agent_that_dissolves_in_a_water_layer_is_one_mistake() -> None:
    lab = ether().edited("dry", flask="aqueous layer", endpoint="weighed", mass_g=2.0)
    assert found("wrong-layer-dried", lab)
    assert not found("too-little-agent", lab)


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_water_and_salt_of_an_undried_layer_are_shown() -> None:
    [hit] = found("not-dried", ether().without("dry"))
    assert hit.cost is not None
    assert hit.cost.foreign.nominal > 0
    assert hit.remark.strength is Strength.ADVICE


@pytest.mark.parametrize(("asked", "share"), [("expected", 0.5), ("required", 0.7)])
def test_next_to_no_water_costs_what_the_exercise_says_of_the_step(
    asked: str, share: float
) -> None:
    """Under 1 % of water and salt cost half of the check whatever the exercise said."""
    lab = ether().without("dry")
    lab = lab if asked == "expected" else lab.choosing("drying", asked)
    [hit] = found("not-dried", lab)
    assert hit.cost is not None
    assert hit.cost.foreign.nominal < 0.01
    assert hit.remark.score_loss == pytest.approx(share, abs=0.01)
    assert f"drying is {asked} in this exercise" in hit.remark.message


def test_the_agent_that_a_puddle_takes_is_computed() -> None:
    lab = vinegar().before("dry", p.Add(
        id="more", flask="organic layer", material="water", volume_mL=8.0))
    [hit] = found("visible-water", lab)
    with_water, without = (n.value for n in hit.remark.numbers)
    # 8 mL is 444 mmol of water; magnesium sulfate stays loose up to 2 mol per mol: 26.7 g.
    assert with_water - without == pytest.approx(26.7, rel=0.1)


@pytest.mark.parametrize(("asked", "says"), [
    ("required", True), ("expected", True), ("by computed water", False), ("free", False)])
def test_an_exercise_says_whether_a_drying_agent_is_asked_for(asked: str, says: bool) -> None:
    """Ether takes its water along: computed, next to none is left, so only a demand is broken."""
    lab = ether().without("dry").choosing("drying", asked)
    assert bool(found("not-dried", lab)) is says


def test_where_the_computed_water_is_above_the_limit_it_asks_for_an_agent() -> None:
    """Any water is too much for a limit of 0."""
    lab = ether().without("dry").choosing("drying", "by computed water")
    setup = lab.exercise.setup
    strict = tuple(replace(t, water_and_salt_limit=0.0) for t in setup.targets)
    exercise = replace(lab.exercise, setup=replace(setup, targets=strict))
    assert found("not-dried", replace(lab, exercise=exercise))
