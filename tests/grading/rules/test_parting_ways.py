"""Components that should part, and flasks that are forgotten."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import acid_and_phenol, in_water, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

HYDROXIDE_FIRST = p.Wash(
    id="take-acid", flask=START_FLASK, material="naoh_1m", volume_mL=20.0, portions=2,
    keep_in="organic", other_in="flask P")
THEN_BICARBONATE = p.Wash(
    id="take-phenol", flask="organic", material="nahco3_5pct", volume_mL=20.0, portions=3,
    keep_in="organic", other_in="flask A", swirl_open=True)


def _hydroxide_first():
    return acid_and_phenol().swapped("take-acid", HYDROXIDE_FIRST).swapped(
        "take-phenol", THEN_BICARBONATE)


def _two_extracts(combined):
    lab = in_water(portions=2).after(
        "extract", p.Extract(id="second", flask="aqueous", material="mtbe", volume_mL=30.0,
                             portions=2, keep_in="second extract", other_in="spent"))
    if not combined:
        return lab
    return lab.before("brine", p.Combine(id="one", flasks=("second extract",), into="organic"))


TABLES: Tables = {
    "targets-not-separated": Table(
        breaks={
            "hydroxide before hydrogencarbonate": _hydroxide_first,
            "a phenol left with the neutral compound": lambda: acid_and_phenol().edited(
                "take-phenol", material="nahco3_5pct", swirl_open=True),
            "one small portion of acid for the amine": lambda: three().edited(
                "take-base", portions=1, volume_mL=3.0),
        },
        keeps={"hydrogencarbonate first": acid_and_phenol},
        looks_wrong={
            "base first or acid first, both work": three,
            "hydroxide for hydrogencarbonate where there is no phenol": lambda: three().edited(
                "take-acid", material="naoh_1m"),
            "one target only": vinegar,
            "a base that was never set free, so that none of it is anywhere": lambda: three(
                ).edited("basify", material="brine"),
        },
    ),
    "extract-left-behind": Table(
        breaks={"the second extract forgotten": lambda: _two_extracts(False)},
        keeps={"combined": lambda: _two_extracts(True)},
        looks_wrong={
            "combined before drying": lambda: _two_extracts(False).before("dry", p.Combine(
                id="one", flasks=("second extract",), into="organic")),
            "product poured out of the flask after weighing": lambda: vinegar().after(
                "weigh", p.Transfer(id="out", flask="round-bottom flask", into="vial")),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_the_wrong_order_of_bases_is_mended_by_the_right_one() -> None:
    hits = found("targets-not-separated", _hydroxide_first())
    assert hits[0].remark.strength is Strength.PRODUCT_LOSS
    assert hits[0].breach.mended is not None
    first = hits[0].breach.mended.steps[0]
    assert isinstance(first, p.Wash)
    assert first.material == "nahco3_5pct"


def test_a_forgotten_extract_costs_its_share() -> None:
    [hit] = found("extract-left-behind", _two_extracts(False))
    assert hit.cost is not None
    assert hit.remark.numbers[0].value / 100 == pytest.approx(hit.cost.lost.nominal, abs=0.03)
