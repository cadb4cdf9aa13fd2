"""The simulated volume of water solutions against published densities.

Volumes are additive in the components, less a contraction around hydroxide and the anions of weak
acids; one figure for all of them, so concentrated base is up to 0.012 g/mL off.
"""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.equilibrium import split_layers
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.materials import components_per_mL
from workups.chemistry.setup import Reaction, Reagent, Setup
from workups.chemistry.tables import tables

SOLUTIONS = tables().solutions
# Pure sulfuric acid takes 53 mL/mol, diluted 36: a bottle of it is not what is simulated.
DILUTED_ONLY = {"h2so4_conc"}


def bench(material: str) -> Inventory:
    return build_inventory(Setup(Reaction(()), (), (material,)), tables(), Draws(1, 1, 0))


@pytest.mark.parametrize("key", sorted(SOLUTIONS.keys() - DILUTED_ONLY))
def test_a_millilitre_of_a_bench_solution_fills_a_millilitre(key: str) -> None:
    """Mass per simulated volume against the density of the bottle (Laliberte 2009), g/mL."""
    inv = bench(key)
    amounts = components_per_mL(inv, key)[:, None]
    simulated = float(inv.mass_g(amounts)[0] / inv.volume_mL(amounts)[0])
    assert simulated == pytest.approx(SOLUTIONS[key].density.value, abs=0.012)


@pytest.mark.parametrize(
    ("molality", "density"),
    [(0.5, 1.01860), (1.0, 1.03911), (2.0, 1.07787), (3.0, 1.11402), (4.0, 1.14776),
     (5.0, 1.17925), (6.0, 1.20866)],
)
def test_sodium_hydroxide_has_the_density_of_the_handbook(molality: float, density: float) -> None:
    """At 25 C, "Density of sodium hydroxide, NaOH(aq)", table 1, advancedthermo.com.

    1 kg of water and m mol NaOH; the water here is that of 20 C, 0.0012 g/mL denser.
    """
    inv = bench("naoh_1m")
    amounts = inv.none()
    amounts[inv.index["sodium"]] = molality * 1000
    # Na+ is counted as NaOH less water, which comes back here.
    amounts[inv.water] = 1e6 / 18.015 + molality * 1000
    simulated = float(inv.mass_g(amounts)[0] / inv.volume_mL(amounts)[0])
    assert simulated == pytest.approx(density, abs=0.013)


def test_neutralising_strong_base_with_strong_acid_expands() -> None:
    """H+ + OH- -> H2O gains 22 mL/mol at no ionic strength, 17 to 20 at 1 mol/L (from memory)."""
    inv = build_inventory(Setup(Reaction(()), (), ("naoh_1m", "hcl_1m")), tables(), Draws(1, 1, 0))
    base, acid = (components_per_mL(inv, k)[:, None] * 500.0 for k in ("naoh_1m", "hcl_1m"))
    apart = float((inv.volume_mL(base) + inv.volume_mL(acid))[0])
    gained_mL_mol = (float(inv.volume_mL(base + acid)[0]) - apart) / 0.5
    assert 15 < gained_mL_mol < 22


def test_shares_of_a_liquid_have_shares_of_its_volume() -> None:
    inv = bench("naoh_6m")
    amounts = components_per_mL(inv, "naoh_6m")[:, None] * np.array([[0.1, 1.0, 250.0]])
    volumes = inv.volume_mL(amounts)
    assert volumes / volumes[1] == pytest.approx([0.1, 1.0, 250.0], rel=1e-12)


def test_a_sulfonic_acid_is_an_ion_in_water_and_stays_there() -> None:
    """10 mmol in 100 mL: pH 1.0, and the solvent takes none up."""
    setup = Setup(Reaction((Reagent("p_toluenesulfonic_acid", "catalyst", 0, amount_mmol=10),)),
                  (), ("water", "diethyl_ether"))
    inv = build_inventory(setup, tables(), Draws(1, 1, 0))
    amounts = 100.0 * components_per_mL(inv, "water") + 50.0 * components_per_mL(
        inv, "diethyl_ether")
    amounts[inv.index["p_toluenesulfonic_acid"]] = 10.0
    split = split_layers(inv, amounts[:, None])
    assert float(split.pH[0]) == pytest.approx(1.0, abs=0.05)
    assert split.organic[inv.index["p_toluenesulfonic_acid"], 0] == 0.0
