"""An amine that leaves as an ion pair with its anion, where an exercise allows it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.equilibrium import Split, split_layers
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.materials import components_per_mL
from workups.chemistry.plan import Add, Adjust, Extract, Plan
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Reaction, Reagent, Setup
from workups.chemistry.tables import tables

from .comparison import disagreements

ALLOWANCE = "log10_Kip:lidocaine:chloride:chloroform"


def exercise(log10_K: float | None = 0.0) -> Setup:
    own = {} if log10_K is None else {
        ALLOWANCE: Quantity(log10_K, "L/mol", 0.2, "made up for the test", "P")}
    return Setup(Reaction((Reagent("lidocaine", "base", 0, amount_mmol=5.0),)), (),
                 ("water", "hcl_1m", "naoh_1m", "brine", "chloroform"), values=own,
                 salting=False)


def shaken(setup: Setup) -> tuple[Inventory, Split]:
    """5 mmol of lidocaine, 10 mL of 1 M HCl, 20 mL of water and 30 mL of chloroform."""
    inv = build_inventory(setup, tables(), Draws(1, 1, 0))
    amounts = (10.0 * components_per_mL(inv, "hcl_1m") + 20.0 * components_per_mL(inv, "water")
               + 30.0 * components_per_mL(inv, "chloroform"))
    amounts[inv.index["lidocaine"]] = 5.0
    return inv, split_layers(inv, amounts[:, None])


def test_without_the_allowance_the_salt_stays_in_water() -> None:
    """pH 0.8, seven units below the pKa: a ten-millionth is neutral, times K of some thousands."""
    inv, split = shaken(exercise(None))
    assert split.organic[inv.index["lidocaine"], 0] < 0.01
    assert split.organic[inv.index["chloride"], 0] == 0.0


def test_the_pair_obeys_its_mass_action_law_and_takes_its_anion() -> None:
    """[BHCl]org = K_ip [BH+] [Cl-] with K_ip = 1 L/mol; one chloride with each cation."""
    inv, split = shaken(exercise(0.0))
    base, chloride = inv.index["lidocaine"], inv.index["chloride"]
    water_mL, organic_mL = inv.volume_mL(split.aqueous)[0], inv.volume_mL(split.organic)[0]
    pair = split.organic[chloride, 0] / organic_mL
    law = split.aqueous[base, 0] / water_mL * split.aqueous[chloride, 0] / water_mL
    assert pair == pytest.approx(1.0 * law, rel=1e-6)
    assert split.organic[base, 0] == pytest.approx(split.organic[chloride, 0], rel=0.005)
    assert 0.2 < split.organic[base, 0] < 3.0


def test_both_layers_stay_electroneutral() -> None:
    """Cl- left in the water: BH+ and H+ beside it, to a billionth."""
    inv, split = shaken(exercise(0.3))
    acid = next(a for a in inv.acids if a.row == inv.index["lidocaine"])
    h = np.exp(split.ln_h)
    assert len(acid.constants) == 1
    cation = split.aqueous[acid.row] / (1.0 + acid.constants[0] / h)
    free = inv.volume_mL(split.aqueous) * (h - 1e-14 / h)
    chloride = split.aqueous[inv.index["chloride"]]
    assert float(cation[0] + free[0]) == pytest.approx(float(chloride[0]), rel=1e-9)


def test_a_pair_with_an_ion_that_is_not_there_changes_nothing() -> None:
    other = {"log10_Kip:lidocaine:perchlorate:chloroform": Quantity(2.0, "L/mol", 0.2, "test", "P")}
    inv, split = shaken(replace(exercise(None), values=other))
    assert split.organic[inv.index["lidocaine"], 0] < 0.01


@pytest.mark.parametrize("log10_K", [-1.0, 0.0, 0.5])
def test_the_scalar_simulation_agrees(log10_K: float) -> None:
    plan = Plan((
        Add(id="acid", flask="reaction flask", material="hcl_1m", volume_mL=15.0),
        Extract(id="out", flask="reaction flask", material="chloroform", volume_mL=20.0,
                portions=2, keep="lower", keep_in="A", other_in="B"),
        Extract(id="back", flask="A", material="water", volume_mL=15.0, keep="upper",
                keep_in="C", other_in="D"),
        Adjust(id="free", flask="B", material="naoh_1m", until_pH=9.0)))
    assert disagreements(plan, exercise(log10_K)) == []


def test_bringing_two_layers_to_a_pH_counts_the_pairs() -> None:
    plan = Plan((
        Add(id="acid", flask="reaction flask", material="hcl_1m", volume_mL=15.0),
        Add(id="solvent", flask="reaction flask", material="chloroform", volume_mL=20.0),
        Adjust(id="free", flask="reaction flask", material="naoh_1m", until_pH=6.0)))
    assert disagreements(plan, exercise(0.3)) == []
