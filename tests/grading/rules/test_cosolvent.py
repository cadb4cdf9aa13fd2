"""Solvents that mix with water."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import ether, in_cosolvent, in_dmf
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)


def _undiluted():
    return in_cosolvent("ethanol", 60.0, "4_methoxybenzyl_alcohol").edited(
        "dilute", volume_mL=40.0).edited("extract", portions=2)


TABLES: Tables = {
    "cosolvent-in-partition": Table(
        breaks={"60 mL of ethanol with 40 mL of water and a polar product": _undiluted},
        keeps={"diluted with five volumes": in_cosolvent},
        looks_wrong={
            "taken off first": lambda: in_cosolvent("acetone", 60.0).edited(
                "dilute", volume_mL=60.0).before("dilute", p.Strip(
                    id="evaporate", flask=START_FLASK, bath_C=40.0, pressure_mbar=150.0,
                    hold_min=5.0)),
            "ten millilitres of ethanol, as the library has it": ether,
            "a product so greasy that it does not care": lambda: in_cosolvent(
                "ethanol", 20.0, "biphenyl").edited("dilute", volume_mL=40.0),
        },
    ),
    "cosolvent-left-in-product": Table(
        breaks={"DMF with no water wash": lambda: in_dmf().without("water").edited(
            "dilute", volume_mL=30.0)},
        keeps={"DMF with five water washes": in_dmf},
        looks_wrong={
            "ethanol, which comes off with the solvent": lambda: in_cosolvent(
                "ethanol", 15.0).without("water"),
            "DMF with dilute lithium chloride": lambda: in_dmf().edited(
                "water", material="licl_5pct"),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_undiluted_ethanol_costs_what_dilution_would_bring() -> None:
    [hit] = found("cosolvent-in-partition", _undiluted())
    assert hit.cost is not None
    assert hit.remark.strength is Strength.PRODUCT_LOSS
    assert hit.cost.lost.nominal > 0.05


def test_dimethylformamide_is_weighed_with_the_product() -> None:
    lab = in_dmf().without("water").edited("dilute", volume_mL=30.0)
    [hit] = found("cosolvent-left-in-product", lab)
    assert hit.remark.numbers[0].value > 10
    assert hit.remark.score_loss > 0
