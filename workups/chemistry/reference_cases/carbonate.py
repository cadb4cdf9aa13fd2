"""Benzoic acid in ether against bicarbonate: pH, acid in the water, gas.

10 mmol benzoic acid (pKa 4.20, K 71 between ether and water) in 50 mL ether, shaken with 25 mL
water holding 15 mmol NaHCO3. Ideal, 25 C constants, no change of volumes, no CO2 in the ether.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..layers import molar_gas_volume_mL
from ..speciation import Ionisable, Limit, balance_charge, shares_in_water
from .case import ReferenceCase

ACID_MMOL, BICARBONATE_MMOL = 10.0, 15.0
WATER_ML, ETHER_ML = 25.0, 50.0
K_ETHER, PKA = 71.0, 4.20
HENRY_MOL_L_ATM = 0.0340
BENZOIC, CARBONIC = 0, 1
_SOURCE = "independent solver (bracketed root of the charge balance), computed beforehand"


@dataclass(frozen=True)
class Shaken:
    """pH, acid in the water layer [mmol] and dry gas [mmol]."""

    pH: float
    acid_mmol: float
    gas_mmol: float


@cache
def shaken(co2_atm: float | None) -> Shaken:
    """The shake in a closed funnel (None) or open to CO2 at a partial pressure [atm]."""
    benzoic = Ionisable(BENZOIC, 0, np.array([[10.0**-PKA]]))
    carbonic = Ionisable(CARBONIC, 0, np.array([[10.0**-6.352], [10.0**-10.329]]))
    acids = [benzoic, carbonic]
    amounts = np.array([[ACID_MMOL], [BICARBONATE_MMOL]])
    pulls = np.array([[K_ETHER * ETHER_ML / WATER_ML], [0.0]])
    held = [] if co2_atm is None else [
        Limit(CARBONIC, np.array([HENRY_MOL_L_ATM * co2_atm]), np.zeros(1))]
    x = balance_charge(acids, amounts, pulls, np.array([BICARBONATE_MMOL]), np.array([WATER_ML]),
                       held)
    acid = ACID_MMOL * shares_in_water(acids, x, pulls)[BENZOIC]
    gas = 0.0
    if co2_atm is not None:
        neutral_mmol = HENRY_MOL_L_ATM * co2_atm * WATER_ML
        gas = float((BICARBONATE_MMOL - neutral_mmol / carbonic.neutral_share(np.exp(x)))[0])
    return Shaken(float(-x[0] / np.log(10.0)), float(acid[0]), gas)


def _gas_mL(co2_atm: float) -> float:
    return shaken(co2_atm).gas_mmol * molar_gas_volume_mL(20.0)


def _case(
    which: str, quantity: str, unit: str, outside: float, tolerance: float,
    ours: Callable[[], float],
) -> ReferenceCase:
    return ReferenceCase(f"benzoic acid, bicarbonate, {which}", quantity, unit, outside,
                         tolerance, _SOURCE, ours)


_DRY, _WET = 1.0, 0.40
_UNDER_ETHER = "open, ether vapour"

CASES: tuple[ReferenceCase, ...] = (
    _case("closed", "pH", "1", 6.529, 5e-4, lambda: shaken(None).pH),
    _case("closed", "acid in the water", "mmol", 6.016, 5e-4, lambda: shaken(None).acid_mmol),
    _case("open", "pH", "1", 7.2152, 5e-5, lambda: shaken(_DRY).pH),
    _case("open", "acid in the water", "mmol", 8.7953, 5e-5, lambda: shaken(_DRY).acid_mmol),
    _case("open", "dry gas", "mmol", 7.9416, 5e-5, lambda: shaken(_DRY).gas_mmol),
    _case("open", "dry gas at 20 C, 1 atm", "mL", 191.0, 0.05, lambda: _gas_mL(_DRY)),
    _case(_UNDER_ETHER, "pH", "1", 7.5657, 5e-5, lambda: shaken(_WET).pH),
    _case(_UNDER_ETHER, "acid in the water", "mmol", 9.4237, 5e-5,
          lambda: shaken(_WET).acid_mmol),
    _case(_UNDER_ETHER, "dry gas", "mmol", 9.0893, 5e-5, lambda: shaken(_WET).gas_mmol),
    _case(_UNDER_ETHER, "dry gas at 20 C, 1 atm", "mL", 218.6, 0.05, lambda: _gas_mL(_WET)),
    _case(_UNDER_ETHER, "vapour-laden gas", "mL", 546.6, 0.05, lambda: _gas_mL(_WET) / _WET),
    ReferenceCase("ideal gas", "1 mmol at 20 C, 1 atm", "mL", 24.055, 5e-4,
                  "R T/p with R = 8.314462618 J/(mol K)", lambda: molar_gas_volume_mL(20.0)),
    ReferenceCase("ideal gas", "1 mmol at 25 C, 1 atm", "mL", 24.465, 5e-4,
                  "R T/p with R = 8.314462618 J/(mol K)", lambda: molar_gas_volume_mL(25.0)),
    ReferenceCase("carbon dioxide in water, 25 C", "gas per mL of water at 1 atm", "mL", 0.83,
                  5e-3, "PHREEQC database (USGS): Henry constant 0.0340 mol/(L atm)",
                  lambda: HENRY_MOL_L_ATM * molar_gas_volume_mL(25.0)),
)
