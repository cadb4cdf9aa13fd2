"""What is poured together reacts when it meets, whatever is poured into what.

By hand: amounts put in, less what the film on the glass holds back (0.2 to 1 %).
"""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Add, Combine, Plan, Separate, Step, Transfer
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target

BEAKER = "beaker"
POUR = Transfer(id="pour", flask=START_FLASK, into=BEAKER)
BACK = Transfer(id="pour", flask=BEAKER, into=START_FLASK)
BOTH = Combine(id="pour", flasks=(START_FLASK, BEAKER), into="both")
WAYS = {"into the beaker": POUR, "out of the beaker": BACK, "both into a third": BOTH}


def poured(reagent: Reagent, bottle: str, step: Step, *after: Step, phase: str = "aqueous") -> Run:
    """A reagent in 40 mL of water or MTBE, and 50 mL of a bottle in a beaker, brought together."""
    solvent = "water" if phase == "aqueous" else "mtbe"
    setup = Setup(
        Reaction((reagent, Reagent(solvent, "solvent", 0.0, volume_mL=40.0))),
        (Target(solvent),),
        ("water", "mtbe", "nahco3_5pct", "nh4cl_sat", "nahso3_10pct"), start_phase=phase)
    fill = Add(id="fill", flask=BEAKER, material=bottle, volume_mL=50.0)
    return simulate(Plan((fill, step, *after)), setup, Draws(1, 3))


@pytest.mark.parametrize("way", WAYS)
def test_hydride_poured_into_water_gives_its_gas_there_and_not_in_the_funnel(way: str) -> None:
    step = WAYS[way]
    into = step.fills()[0]
    run = poured(Reagent("sodium_borohydride", "hydride", 0.0, amount_mmol=10.0), "nh4cl_sat", step,
                 Separate(id="part", flask=into, keep_in="organic", other_in="aqueous"),
                 phase="organic")
    gas, later = run.outcome("pour").facts.gas_mmol, run.outcome("part").facts.gas_mmol
    assert gas is not None
    assert later is not None
    assert gas == pytest.approx(40.0, rel=0.02)  # 4 mol of hydrogen per mol
    assert np.all(later == 0.0)


@pytest.mark.parametrize("way", WAYS)
def test_acid_and_carbonate_fizz_where_they_meet(way: str) -> None:
    """30.8 mmol of hydrogencarbonate with more acid than that: all of it but what 90 mL of water
    dissolve at 1 atm, 0.039 mol/L or 3.5 mmol."""
    run = poured(Reagent("chloride", "acid", 0.0, amount_mmol=60.0), "nahco3_5pct", WAYS[way])
    gas = run.outcome("pour").facts.gas_mmol
    assert gas is not None
    assert gas == pytest.approx(30.8 - 3.5, rel=0.03)


@pytest.mark.parametrize("way", WAYS)
def test_bleach_and_bisulfite_destroy_each_other_where_they_meet(way: str) -> None:
    run = poured(Reagent("sodium_hypochlorite", "bleach", 0.0, amount_mmol=20.0), "nahso3_10pct",
                 WAYS[way])
    into = WAYS[way].fills()[0]
    left = run.end.flasks[into].total()[run.inventory.index["hypochlorous_acid"]]
    assert left == pytest.approx(0.0, abs=1e-9)


def test_extracts_without_a_water_layer_lie_in_one_flask_as_they_were() -> None:
    setup = Setup(
        Reaction((Reagent("sodium_bicarbonate", "salt", 0.0, amount_mmol=5.0),
                  Reagent("water", "water", 0.0, volume_mL=30.0),
                  Reagent("mtbe", "solvent", 0.0, volume_mL=40.0))),
        (Target("mtbe"),), ("water", "mtbe"))
    parted = Separate(id="part", flask=START_FLASK, keep_in="one", other_in="aqueous")
    more = Add(id="more", flask="two", material="mtbe", volume_mL=20.0)
    run = simulate(Plan((parted, more, Combine(id="pour", flasks=("one", "two"), into="both"))),
                   setup, Draws(1, 3))
    facts = run.outcome("pour").facts
    assert facts.gas_mmol is None
    assert (run.end.flasks["both"].droplets[run.inventory.water] > 0).all()
