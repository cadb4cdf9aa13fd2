"""Heats of neutralisation and dilution, and how warm liquids get together."""

from __future__ import annotations

from ..heat import adiabatic_C, heat_J
from ..materials import poured
from .case import ReferenceCase
from .water import bench

_NBS = "NBS tables of chemical thermodynamic properties, 1982 (from memory)"
_CLASSROOM = "coffee-cup calorimeter, textbooks (from memory)"
_THOMSEN = "Thomsen's rule for all dilutions: 4 to 6 % below the tables"
_BOTTLES = ("hcl_1m", "naoh_1m", "h2so4_conc")


def _warmed(one: str, other: str, mL: float) -> float:
    inv = bench(*_BOTTLES)
    return float(adiabatic_C(inv, [(poured(inv, k, mL).total(), 20.0) for k in (one, other)])[0])


def _diluted(water: float) -> float:
    """Heat [kJ/mol] of a mol of pure sulfuric acid and so many mol of water."""
    inv = bench(*_BOTTLES)
    acid, liquid = inv.none(), inv.none()
    acid[inv.index["sulfate"]], liquid[inv.water] = 1000.0, 1000.0 * water
    return float(heat_J(inv, (acid, liquid))[0]) * 1e-3


CASES: tuple[ReferenceCase, ...] = (
    ReferenceCase("1 M acid and base, equal volumes", "warms by", "K", 6.7, 0.3, _CLASSROOM,
                  lambda: _warmed("hcl_1m", "naoh_1m", 50.0) - 20.0, "6.5 to 6.9 in print"),
    ReferenceCase("sulfuric acid, 1 mol of water", "heat", "kJ/mol", 28.1, 3.0, _NBS,
                  lambda: _diluted(1.0), _THOMSEN),
    ReferenceCase("sulfuric acid, 5 mol of water", "heat", "kJ/mol", 58.0, 3.5, _NBS,
                  lambda: _diluted(5.0), _THOMSEN),
    ReferenceCase("sulfuric acid, 20 mol of water", "heat", "kJ/mol", 71.5, 3.0, _NBS,
                  lambda: _diluted(20.0), _THOMSEN),
)
