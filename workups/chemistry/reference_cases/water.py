"""Water: its activity over salt, what solvents hold, what leaves on stripping, what salts take."""

from __future__ import annotations

from functools import cache

import numpy as np

from ..contact import contact
from ..draws import Draws
from ..drying import dry_to_equilibrium, staircase
from ..gel import most_dissolved
from ..inventory import Inventory, build_inventory
from ..layers import water_capacity_mmol
from ..materials import components_per_mL
from ..setup import Reaction, Setup
from ..stripping import relative_volatility_of_water
from ..water import water_activity
from .case import ReferenceCase

WATER_G_MOL = 18.015
NACL_G_MOL = 58.443
_KARL_FISCHER = ("Karl Fischer titration of wet solvents after partition (abstract of a study of "
                 "anhydrous sodium sulfate; room temperature not given)")
_LIBRARY = ("arithmetic on vapour pressures of IAPWS-95 and Perry's Handbook, 8th ed., table 2-8 "
            "(through chemicals 1.5.2) and densities at 20 C")
_HAND = "arithmetic on handbook vapour pressures and solubilities, done beforehand"


@cache
def bench(*materials: str, room_C: float = 20.0) -> Inventory:
    """The nominal constants of some materials, without a reaction."""
    setup = Setup(Reaction(()), (), materials, room_C=room_C)
    return build_inventory(setup, setup.tables, Draws(0, 1))


def saturated_nacl(mass_share: float = 0.2637) -> tuple[float, float]:
    """Water activity and density [g/mL] of aqueous NaCl, a mass share of it salt (25 C)."""
    inv = bench("brine", "diethyl_ether")
    amounts = inv.none()
    salt = mass_share / NACL_G_MOL * 1e3
    amounts[inv.index["sodium"]] = amounts[inv.index["chloride"]] = salt
    amounts[inv.water] = (1.0 - mass_share) / WATER_G_MOL * 1e3
    density = inv.mass_g(amounts) / inv.volume_mL(amounts)
    return float(water_activity(inv, amounts)[0]), float(density[0])


def sodium_hydroxide_density(molality: float) -> float:
    """Density [g/mL] of aqueous NaOH, mol per kg of water."""
    inv = bench("naoh_1m")
    amounts = inv.none()
    amounts[inv.index["sodium"]] = molality * 1e3
    # Na+ is counted as NaOH less the water that comes back here.
    amounts[inv.water] = 1e6 / WATER_G_MOL + molality * 1e3
    return float((inv.mass_g(amounts) / inv.volume_mL(amounts))[0])


def gel_pH(magnesium_mol_L: float = 0.05) -> float:
    """pH above which magnesium hydroxide is solid, read off the solubility by bisection."""
    low, high = 7.0, 12.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        stays = float(most_dissolved(10.0**-middle)) > magnesium_mol_L
        low, high = (middle, high) if stays else (low, middle)
    return low


def water_held_mg_mL(solvent: str) -> float:
    """Water in a saturated solvent [mg per mL of solvent]."""
    return float(bench(solvent).water_in_solvent[0, 0]) * WATER_G_MOL


def alpha_of_water(solvent: str, celsius: float = 25.0) -> float:
    """Relative volatility of water dissolved below saturation."""
    inv = bench(solvent)
    row = inv.solvent_rows[0]
    per_solvent = float(inv.water_in_solvent[0, 0] * inv.molar_volume[row])
    pressures = inv.saturation_Pa(celsius)
    return relative_volatility_of_water(
        float(pressures[inv.water]), float(pressures[row]), per_solvent / (1.0 + per_solvent))


def two_liquid_mg_mL(solvent: str, celsius: float = 40.0) -> float:
    """Water that leaves per mL of solvent while drops of it remain [mg/mL]."""
    inv = bench(solvent)
    row = inv.solvent_rows[0]
    pressures = inv.saturation_Pa(celsius)
    per_mol = float(pressures[inv.water] / pressures[row])
    return per_mol * WATER_G_MOL / float(inv.molar_volume[row])


def taken_up_by_sodium_sulfate(celsius: float) -> float:
    """Share of the water of a saturated layer that an excess of anhydrous Na2SO4 binds."""
    inv = bench("diethyl_ether", "sodium_sulfate", room_C=celsius)
    stairs = staircase(inv.agents["sodium_sulfate"], inv.draws, celsius)
    capacity = np.array([25.0])
    return float(dry_to_equilibrium(stairs, np.array([1e3]), capacity, capacity).bound[0]
                 / capacity[0])


def taken_by_brine(solvent_mL: float = 50.0, brine_mL: float = 500.0) -> float:
    """Share of the dissolved water that a large volume of brine takes out of wet ether."""
    inv = bench("brine", "diethyl_ether")
    wet = components_per_mL(inv, "diethyl_ether")[:, None] * solvent_mL
    held = water_capacity_mmol(inv, wet)
    wet[inv.water] = held
    salt = components_per_mL(inv, "brine")[:, None] * brine_mL
    split = contact(inv, wet + salt).split
    after = split.organic[inv.water] / water_capacity_mmol(inv, split.organic)
    return 1.0 - float(after[0])


def _held(solvent: str, low: float, high: float) -> ReferenceCase:
    return ReferenceCase(
        f"water in wet {solvent.replace('_', ' ')}", "water held", "mg/mL", 0.5 * (low + high),
        0.5 * (high - low), _KARL_FISCHER, lambda: water_held_mg_mL(solvent),
        f"measured {low:g} to {high:g}")


def _caustic(molality: float, density: float) -> ReferenceCase:
    return ReferenceCase(
        f"NaOH, {molality:g} mol/kg, 25 C", "density", "g/mL", density, 0.013,
        "Density of sodium hydroxide, NaOH(aq), table 1, advancedthermo.com",
        lambda: sodium_hydroxide_density(molality),
        "one contraction for all weak ions; our water has its density at 20 C")


def _alpha(solvent: str, outside: float, tolerance: float, note: str = "") -> ReferenceCase:
    return ReferenceCase(f"water in {solvent.replace('_', ' ')}, 25 C", "relative volatility", "1",
                         outside, tolerance, _HAND, lambda: alpha_of_water(solvent), note)


def _two_liquid(solvent: str, outside: float) -> ReferenceCase:
    return ReferenceCase(f"wet {solvent.replace('_', ' ')} boiling, 40 C", "water carried off",
                         "mg/mL", outside, 0.02 * outside, _LIBRARY,
                         lambda: two_liquid_mg_mL(solvent))


_UNCERTAIN = "wider: the solubility of water in it is known to 10 to 20 % only"
CASES: tuple[ReferenceCase, ...] = (
    ReferenceCase("saturated NaCl, 25 C", "water activity", "1", 0.7529, 1.2e-3,
                  "Greenspan 1977: 75.29 +- 0.12 % relative humidity",
                  lambda: saturated_nacl()[0]),
    ReferenceCase("saturated NaCl, 25 C", "water activity", "1", 0.7525, 1.2e-3,
                  "CRC Handbook, constant humidity table: 69.20 exp(25/T)",
                  lambda: saturated_nacl()[0]),
    ReferenceCase("saturated NaCl, 25 C", "density", "g/mL", 1.1971, 1.2e-3,
                  "Laliberte 2009, doi 10.1021/je8008123", lambda: saturated_nacl()[1],
                  "our water has its density at 20 C, 0.0012 g/mL more"),
    ReferenceCase("saturated NaCl, 25 C", "density", "g/mL", 1.1976, 1.2e-3,
                  "Pitzer model with volumes, run independently", lambda: saturated_nacl()[1],
                  "our water has its density at 20 C, 0.0012 g/mL more"),
    _caustic(1.0, 1.03911),
    _caustic(3.0, 1.11402),
    _caustic(6.0, 1.20866),
    ReferenceCase("magnesium hydroxide, 0.05 mol/L Mg", "pH where it comes out", "1", 9.21, 0.01,
                  "arithmetic on log K_sp -10.88 (brucite, pitzer.dat)", gel_pH),
    _held("diethyl_ether", 8.0, 10.0),
    _held("ethyl_acetate", 20.0, 30.0),
    ReferenceCase("water in wet hexane", "water held", "mg/mL", 0.1, 0.05, _KARL_FISCHER,
                  lambda: water_held_mg_mL("hexane"), "printed to one digit"),
    ReferenceCase("wet ether on Na2SO4, 20 C", "share of the water taken up", "1", 0.225, 0.025,
                  _KARL_FISCHER, lambda: taken_up_by_sodium_sulfate(20.0), "measured 20 to 25 %"),
    ReferenceCase("wet ether on Na2SO4, 25 C", "share of the water taken up", "1", 0.225, 0.03,
                  _KARL_FISCHER, lambda: taken_up_by_sodium_sulfate(25.0),
                  "measured 20 to 25 %, temperature not given"),
    ReferenceCase("wet ether against much brine", "share of the water taken out", "1", 0.247, 4e-3,
                  "1 - a_w of saturated NaCl (Greenspan 1977)", taken_by_brine,
                  "the ether dissolved in the brine lowers a_w a little further"),
    _alpha("diethyl_ether", 0.9, 0.05),
    _alpha("mtbe", 1.5, 0.05),
    _alpha("ethyl_acetate", 1.9, 0.05),
    _alpha("dichloromethane", 6.0, 0.5),
    _alpha("chloroform", 23.0, 2.5, _UNCERTAIN),
    _alpha("toluene", 300.0, 100.0, _UNCERTAIN),
    _alpha("hexane", 300.0, 100.0, _UNCERTAIN),
    _two_liquid("diethyl_ether", 10.41),
    _two_liquid("mtbe", 18.64),
    _two_liquid("ethyl_acetate", 54.9),
    _two_liquid("dichloromethane", 20.27),
    _two_liquid("toluene", 158.9),
)
