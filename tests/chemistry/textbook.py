"""Limiting cases of a textbook: a solvent and water that do not dissolve each other at all."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from workups.chemistry.draws import Draws
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.quantity import Quantity
from workups.chemistry.setup import Reaction, Reagent, Setup
from workups.chemistry.substances import Substance, Tables
from workups.chemistry.tables import tables

SOLVENT, SOLUTE = "toluene", "caffeine"
TRACE_MMOL = 1e-7


def _made_up(value: float, unit: str, uncertainty: float = 0.0) -> Quantity:
    return Quantity(value, unit, uncertainty, "made up: a limiting case", "P")


def _immiscible(substance: Substance) -> Substance:
    nothing = _made_up(1e-12, "wt% of that phase")
    values = {**substance.values, "water_in_solvent": nothing, "solvent_in_water": nothing,
              "density": _made_up(1.0, "g/mL")}
    return replace(substance, values=values, partition={})


def textbook_tables() -> Tables:
    """The program's tables with one solvent that water neither dissolves nor wets."""
    known = tables()
    return replace(known, substances={
        **known.substances, SOLVENT: _immiscible(known.substances[SOLVENT])})


def inventory(
    K: float, count: int, *, spread_log10: float = 0.0, materials: tuple[str, ...] = (),
    others: tuple[str, ...] = (),
) -> Inventory:
    """A solute with partition coefficient K between the solvent and water, ``count`` draws."""
    reagents = tuple(Reagent(key, "solute", 0.0, amount_mmol=1.0) for key in (SOLUTE, *others))
    setup = Setup(
        Reaction(reagents), (), ("water", SOLVENT, *materials), salting=False, cosolvent=False,
        values={f"log10_K:{SOLUTE}:{SOLVENT}": _made_up(float(np.log10(K)), "1", spread_log10)})
    return build_inventory(setup, textbook_tables(), Draws(3, count))


def layers(inv: Inventory, solute_mmol: float, water_mL: float, solvent_mL: float) -> np.ndarray:
    """Amounts (C, N) of a trace of solute in so much water and solvent."""
    amounts = inv.none()
    amounts[inv.index[SOLUTE]] = solute_mmol
    amounts[inv.water] = water_mL / inv.molar_volume[inv.water]
    amounts[inv.index[SOLVENT]] = solvent_mL / inv.molar_volume[inv.index[SOLVENT]]
    return amounts
