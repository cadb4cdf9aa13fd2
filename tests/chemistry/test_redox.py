"""Bleach and bisulfite: mole for mole, at once, and the mixture turns sour."""

from __future__ import annotations

import math

import pytest

from tests.chemistry.conserved import conservation_error
from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Add, Plan
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import OwnMaterial, Reaction, Reagent, Setup, Target

BISULFITE = OwnMaterial("bisulfite", "1 M sodium hydrogensulfite", 1.07,
                        {"sodium": 1.0, "sulfur_dioxide": 1.0})


def bleach_with(bisulfite_mL: float) -> Run:
    """10 mmol of hypochlorite in 90 mL of water."""
    reagents = (Reagent("sodium_hypochlorite", "made up", 0, amount_mmol=10.0),
                Reagent("water", "made up", 0, volume_mL=90.0))
    setup = Setup(Reaction(reagents), (Target("cyclohexanone"),), ("diethyl_ether", "water"),
                  own_materials=(BISULFITE,), start_phase="aqueous")
    step = Add(id="destroy", flask=START_FLASK, material="bisulfite", volume_mL=bisulfite_mL)
    return simulate(Plan((step,)), setup, Draws(1, 1))


def amount(run: Run, key: str) -> float:
    return float(run.end.flasks[START_FLASK].total()[run.inventory.index[key], 0])


@pytest.mark.parametrize(("bisulfite_mL", "bleach", "excess"), [
    (4.0, 6.0, 0.0), (10.0, 0.0, 0.0), (13.0, 0.0, 3.0)])
def test_one_bisulfite_destroys_one_hypochlorite(
    bisulfite_mL: float, bleach: float, excess: float
) -> None:
    run = bleach_with(bisulfite_mL)
    used = 10.0 - bleach
    assert amount(run, "hypochlorous_acid") == pytest.approx(bleach, abs=1e-9)
    assert amount(run, "sulfur_dioxide") == pytest.approx(excess, abs=1e-9)
    assert amount(run, "chloride") == pytest.approx(used)
    assert amount(run, "sulfate") == pytest.approx(used)
    assert conservation_error(run.end) < 1e-9


def test_what_is_left_is_sodium_hydrogensulfate_and_salt() -> None:
    """10 mmol of NaHSO4 in 100 mL: h^2/(0.1 - h) = 10^-1.99, h = 0.0273, pH 1.56 (by hand)."""
    K = 10**-1.99
    by_hand = -math.log10((-K + math.sqrt(K * K + 4 * K * 0.1)) / 2)
    run = bleach_with(10.0)
    assert float(run.end.flasks[START_FLASK].pH[0]) == pytest.approx(by_hand, abs=0.02)
