"""Brine: last, and worth it where the solvent holds much water."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.grading.assessment import Strength

from .labs import ether, heavy, three, vinegar
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
    "brine-not-last": Table(
        breaks={
            "brine before bicarbonate": lambda: vinegar().moved(
            "wash-brine", "wash-bicarbonate"),
            "brine before bicarbonate in the first of several layers": lambda: three().moved(
                "brine-n", "take-acid"),
        },
        keeps={"brine last": vinegar, "brine last in each layer": three},
        looks_wrong={
            "brine early against an emulsion, and last": lambda: vinegar().before(
                "wash-bicarbonate", p.Wash(
                    id="early", flask="organic layer", material="brine", volume_mL=10.0,
                    keep_in="organic layer", other_in="spent brine")),
            "brine early where brine is left free": lambda: vinegar().moved(
                "wash-brine", "wash-bicarbonate").choosing("brine", "free"),
            "brine early where it is only advised": lambda: ether().moved(
                "wash-brine", "wash-water"),
        },
    ),
    "no-brine": Table(
        breaks={
            "ether without brine": lambda: ether().without("wash-brine", "discard-brine"),
            "one of two layers without brine": lambda: three().without("brine-n"),
            "a layer that no other wash follows": lambda: three().without("brine-l"),
        },
        keeps={"brine": ether},
        looks_wrong={
            "left free": lambda: ether().without(
                "wash-brine", "discard-brine").choosing("brine", "free"),
            "dichloromethane, which holds hardly any water": heavy,
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_brine_asked_for_costs_a_tenth_when_it_comes_too_early() -> None:
    [hit] = found("brine-not-last", vinegar().moved("wash-brine", "wash-bicarbonate"))
    assert hit.remark.strength is Strength.ADVICE
    assert hit.remark.score_loss == pytest.approx(0.1)


def test_a_missing_brine_is_information_with_the_agent_it_saves() -> None:
    [hit] = found("no-brine", ether().without("wash-brine", "discard-brine"))
    assert hit.fair
    without, with_brine = (n.value for n in hit.remark.numbers)
    assert without > 1.5 * with_brine
