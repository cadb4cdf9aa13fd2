"""Carboxylic acids that pair up in a solvent which cannot hold their hydrogens."""

from __future__ import annotations

import math

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.equilibrium import split_layers
from workups.chemistry.inventory import build_inventory
from workups.chemistry.layers import dimer_gain
from workups.chemistry.materials import components_per_mL
from workups.chemistry.plan import Add, Extract, Plan
from workups.chemistry.setup import Reaction, Reagent, Setup
from workups.chemistry.tables import tables

from .comparison import disagreements


def ratio(solvent: str, mmol: float, acid: str = "benzoic_acid") -> float:
    """D of an acid from 50 mL of 0.1 M HCl and salt-free, into 50 mL of a solvent."""
    setup = Setup(Reaction((Reagent(acid, "acid", 0, amount_mmol=mmol),)), (),
                  ("water", "hcl_1m", solvent), salting=False)
    inv = build_inventory(setup, tables(), Draws(1, 1, 0))
    amounts = (45.0 * components_per_mL(inv, "water") + 5.0 * components_per_mL(inv, "hcl_1m")
               + 50.0 * components_per_mL(inv, solvent))
    row = inv.index[acid]
    amounts[row] = mmol
    split = split_layers(inv, amounts[:, None])
    in_layer = split.organic[row, 0] / inv.volume_mL(split.organic)[0]
    return float(in_layer / (split.aqueous[row, 0] / inv.volume_mL(split.aqueous)[0]))


def test_the_gain_is_that_of_the_mass_action_law() -> None:
    """m + 2 K2 m^2 = c: with K2 = 625 L/mol and m = 0.01 mol/L, c = 0.135 and c/m = 13.5."""
    assert float(dimer_gain(np.array(0.135), np.array(625.0))) == pytest.approx(13.5, rel=1e-12)
    assert float(dimer_gain(np.array(1e-9), np.array(625.0))) == pytest.approx(1.0, rel=1e-5)


def test_a_trace_is_shared_out_by_the_partition_coefficient_of_the_monomer() -> None:
    log_k = tables().substances["benzoic_acid"].partition["toluene"].value
    free = 1.0 / (1.0 + 10.0**-4.2 / 0.1)
    assert ratio("toluene", 1e-5) == pytest.approx(10.0**log_k * free, rel=0.01)


def test_distribution_over_the_square_of_the_water_concentration_is_constant_where_all_pairs(
) -> None:
    """Nernst's law for a solute that is double in one solvent: c(organic)/c(water)^2 constant.

    In hexane from 1 to 10 mmol nearly all is dimer, so D grows as the root of c(organic).
    """
    few, many = ratio("hexane", 1.0), ratio("hexane", 10.0)
    share = {mmol: D / (1.0 + D) * mmol / 50.0 for mmol, D in ((1.0, few), (10.0, many))}
    assert many / few == pytest.approx(math.sqrt(share[10.0] / share[1.0]), rel=0.1)


def test_ether_and_ester_hold_the_hydrogen_themselves() -> None:
    for solvent in ("diethyl_ether", "ethyl_acetate", "mtbe"):
        assert ratio(solvent, 5.0) == pytest.approx(ratio(solvent, 1e-4), rel=0.03)


@pytest.mark.parametrize("solvent", ["toluene", "dichloromethane", "hexane"])
def test_the_scalar_simulation_agrees(solvent: str) -> None:
    setup = Setup(
        Reaction((Reagent("benzoic_acid", "acid", 0, amount_mmol=12.0),
                  Reagent("ibuprofen", "acid", 0, amount_mmol=3.0))), (),
        ("water", "hcl_1m", "nahco3_5pct", solvent))
    plan = Plan((
        Add(id="acid", flask="reaction flask", material="hcl_1m", volume_mL=30.0),
        Extract(id="out", flask="reaction flask", material=solvent, volume_mL=25.0, portions=2,
                keep="upper", keep_in="A", other_in="B"),
        Extract(id="back", flask="A", material="nahco3_5pct", volume_mL=10.0,
                keep="lower", keep_in="C", other_in="D")))
    assert disagreements(plan, setup) == []
