"""What is weighed with the product and a simple wash would have taken out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import Lab, amine, charged, ether, finished, label, made_up, shaken, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

ACIDIFIED = p.Add(id="acidify", flask=START_FLASK, material="hcl_1m", volume_mL=30.0)


def _toluidine(wash: str, *, of_the_model: str = "hcl_1m") -> Lab:
    """An ester in MTBE with a quarter as much p-toluidine, one wash before the brine."""
    lab = made_up(
        (charged("ethyl_benzoate", g=2.0), charged("p_toluidine", g=0.5),
         charged("mtbe", mL=40.0)),
        ("ethyl_benzoate",),
        ("mtbe", "water", "brine", "hcl_1m", "nahco3_5pct", "sodium_sulfate"),
        (
            shaken(p.Wash, "wash", START_FLASK, of_the_model, 20.0, portions=2),
            label(),
            shaken(p.Wash, "brine", "organic", "brine", 15.0, aside="spent brine"),
            *finished("organic", "mtbe"),
        ),
    )
    return replace(lab.edited("wash", material=wash), exercise=lab.exercise)


def _never_in_acid() -> Lab:
    """Dibenzylamine with the biphenyl it came with, washed with water, not taken into acid."""
    lab = amine()
    first, last = lab.plan.index("take-amine"), lab.plan.index("brine")
    washed = shaken(p.Wash, "water", START_FLASK, "water", 20.0)
    return replace(lab, plan=p.Plan((*lab.plan.steps[:first], washed, *lab.plan.steps[last:])))


def _acid_first() -> Lab:
    return ether().before("extract", ACIDIFIED).edited("dry", agent="magnesium_sulfate").edited(
        "filter", method="gravity")


TABLES: Tables = {
    "impurity-left": Table(
        breaks={
            "acid first, so that the phenol goes with the product": _acid_first,
            "an amine washed with water": lambda: _toluidine("water"),
            "an amine washed with hydrogencarbonate": lambda: _toluidine("nahco3_5pct"),
            "an amine with the neutral compound, never taken into acid": _never_in_acid,
        },
        keeps={"alkaline all the time": ether, "an amine washed with acid": lambda: _toluidine(
            "hcl_1m")},
        looks_wrong={
            "an amine over its salt": amine,
            "acid first, and hydroxide after it": lambda: _acid_first().edited(
                "wash-water", material="naoh_1m"),
            "acid first, and calcium chloride, which binds the phenol": lambda: ether().before(
                "extract", ACIDIFIED),
            "the exercise's own route leaves it in": lambda: _toluidine(
                "water", of_the_model="water"),
            "an alcohol that no wash would take": vinegar,
            "phenols and amines that are products themselves": three,
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_the_phenol_that_did_not_react_is_weighed_with_the_ether() -> None:
    [hit] = found("impurity-left", _acid_first())
    # 14 % of 20 mmol of the phenol, 0.30 g, beside 2.8 g of the ether: 11 %, less what water takes.
    assert hit.remark.numbers[0].value == pytest.approx(11, abs=3)
    assert hit.remark.strength is Strength.ADVICE
    assert 0 < hit.remark.score_loss <= 0.3


def test_a_neutral_compound_that_stayed_with_an_amine_is_named_with_its_share() -> None:
    [hit] = found("impurity-left", _never_in_acid())
    assert "iphenyl" in hit.remark.message
    assert hit.remark.numbers[0].value == pytest.approx(300, rel=0.1)  # 6 g beside 2 g
