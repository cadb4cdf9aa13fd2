"""A sulfonic acid is an ion at every pH: it goes to the water and makes it acidic."""

from __future__ import annotations

import math

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Add, Plan, Strip
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target


def carried_out(reagents: tuple[Reagent, ...], *steps: Add | Strip) -> Run:
    setup = Setup(Reaction(reagents), (Target("4_phenylcyclohexanone"),),
                  ("toluene", "water", "nahco3_5pct"))
    return simulate(Plan(steps), setup, Draws(1, 1))


def charged(substance: str, **amount: float) -> Reagent:
    return Reagent(substance, "made up", 0, **amount)


@pytest.mark.parametrize("acid", ["p_toluenesulfonic_acid", "methanesulfonic_acid"])
def test_half_a_millimole_in_twenty_millilitres_of_water_is_pH_1_6(acid: str) -> None:
    """-log10(0.50/20) = 1.602 (hand calculation); the water that toluene takes up is 0.05 %."""
    run = carried_out(
        (charged(acid, amount_mmol=0.5), charged("toluene", volume_mL=20.0)),
        Add(id="water", flask=START_FLASK, material="water", volume_mL=20.0))
    flask, row = run.end.flasks[START_FLASK], run.inventory.index[acid]
    assert flask.organic[row, 0] == 0
    assert flask.aqueous[row, 0] == pytest.approx(0.5)
    assert float(flask.pH[0]) == pytest.approx(-math.log10(0.5 / 20.0), abs=0.01)


def test_an_amine_stays_as_its_salt_when_the_water_is_boiled_off() -> None:
    """Isopropylamine boils at 32 °C; its hydrochloride does not evaporate."""
    run = carried_out(
        (charged("isopropylamine", amount_mmol=5.0), charged("hydrogen_chloride", amount_mmol=8.0),
         charged("ethanol", volume_mL=10.0)),
        Add(id="water", flask=START_FLASK, material="water", volume_mL=20.0),
        Strip(id="strip", flask=START_FLASK, bath_C=60.0, pressure_mbar=20.0, hold_min=30.0))
    left = run.end.flasks[START_FLASK].total()
    assert left[run.inventory.index["isopropylamine"], 0] == pytest.approx(5.0, rel=1e-3)
    assert left[run.inventory.index["ethanol"], 0] < 0.01
