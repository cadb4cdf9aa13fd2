"""Water activity of a water layer, water dissolved in an organic layer, and volumes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .compiled import Table, Vector, entry, inner
from .constants import WATER_G_MOL
from .mixture import Components, Solvents

if TYPE_CHECKING:
    from .components import Inventory

Array = NDArray[np.float64]

# Pitzer's osmotic coefficient of NaCl at 25 C: Debye-Hueckel slope for water, and the parameters
# of Pitzer and Mayorga, J. Phys. Chem. 1973, 77, 2300 (from memory; the saturated solution they
# give, 0.7529, is the one that was read).
_A_PHI, _B = 0.3915, 1.2
_BETA_0, _BETA_1, _C_PHI = 0.0765, 0.2664, 0.00127
_MOLALITY_LIMIT = 8.0
_LEAST_WATER_MMOL, _LEAST_WATER_KG = 1e-9, 1e-12
# Water shrinks around hydroxide and the anions of weak acids, mL per mmol, against the same
# amount of water and neutral acid. From densities (Laliberte 2009, 20 C): NaOH 22 at 1 M, 18 at
# 3 M, 16 at 6 M, carbonate beyond hydrogencarbonate 23, sulfate beyond hydrogensulfate 17;
# carboxylic acids 11 to 15 (from memory). One figure for all is within 0.01 g/mL of the tables.
ANION_CONTRACTION_ML_MMOL = 0.017
# The same where a base takes up a proton: ammonia 24.3, ammonium 18.1 (less chloride) mL/mol.
CATION_CONTRACTION_ML_MMOL = 0.0062
_MOST_CONTRACTION = 0.5


@inner
def additive_mL(amounts: Vector, components: Components) -> float:
    """Volume [mL] of amounts [mmol] (C,) without any contraction."""
    volume = 0.0
    for i in range(len(amounts)):
        volume += amounts[i] * components[i].molar_volume
    return volume


@inner
def volume_mL(amounts: Vector, components: Components) -> float:
    """Volume [mL] of amounts [mmol] (C,).

    Additive in the components, less the contraction of the water around hydroxide and the anions
    of weak acids, of which there are as many as strong cations have no strong anion, and around
    protonated bases, as many as strong anions have no strong cation.
    """
    volume, charge, bases = 0.0, 0.0, 0.0
    for i in range(len(amounts)):
        volume += amounts[i] * components[i].molar_volume
        charge += amounts[i] * components[i].base_charge
        if components[i].takes_proton:
            bases += amounts[i]
    shrinks = (ANION_CONTRACTION_ML_MMOL * charge if charge > 0.0
               else CATION_CONTRACTION_ML_MMOL * min(-charge, bases))
    return volume - min(shrinks, _MOST_CONTRACTION * volume)


@inner
def osmotic_coefficient(molality: Any) -> Any:
    """Osmotic coefficient of aqueous NaCl at 25 C.

    phi - 1 = -A sqrt(m)/(1 + 1.2 sqrt(m)) + m (b0 + b1 exp(-2 sqrt(m))) + m^2 C

    ``molality`` in mol/kg, 0 to saturation (6.1); dimensionless result.

    >>> round(float(osmotic_coefficient(6.13)), 2)
    1.28
    """
    root = np.sqrt(molality)
    return (1.0 - _A_PHI * root / (1.0 + _B * root)
            + molality * (_BETA_0 + _BETA_1 * np.exp(-2.0 * root)) + molality * molality * _C_PHI)


@inner
def salt_in(aqueous: Vector, components: Components) -> float:
    """Dissolved salt [mmol], counted by the larger of the cation and anion charge."""
    positive, negative = 0.0, 0.0
    for i in range(len(aqueous)):
        charge = components[i].strong_charge * aqueous[i]
        if components[i].strong_charge > 0.0:
            positive += charge
        else:
            negative -= charge
    return max(positive, negative)


@inner
def strong_in(amounts: Vector, components: Components) -> float:
    """Net charge of the fully dissociated ions [mmol]."""
    charge = 0.0
    for i in range(len(amounts)):
        charge += amounts[i] * components[i].strong_charge
    return charge


@inner
def activity_of_water(aqueous: Vector, water: int, components: Components) -> float:
    """Water activity of a water layer, (C,) mmol, ``water`` the row of water; 0..1.

    All strong electrolytes are taken as sodium chloride (Pitzer), everything else as ideal:
    ln a_w = -M_w (2 m phi + sum of the other molalities). With no water it is 0. Of the others,
    as many stand in for a missing strong counter-ion as the strong ions have net charge.
    """
    if aqueous[water] <= _LEAST_WATER_MMOL:
        return 0.0
    kilograms = max(aqueous[water] * WATER_G_MOL * 1e-6, _LEAST_WATER_KG)
    others = 0.0
    for i in range(len(aqueous)):
        if components[i].strong_charge == 0.0 and i != water:
            others += aqueous[i]
    others = max(others - abs(strong_in(aqueous, components)), 0.0) * 1e-3 / kilograms
    molality = min(salt_in(aqueous, components) * 1e-3 / kilograms, _MOLALITY_LIMIT)
    exponent = 2.0 * molality * osmotic_coefficient(molality) + others
    return math.exp(-WATER_G_MOL * 1e-3 * exponent)


@inner
def share_solvents(organic: Vector, components: Components, solvents: Solvents) -> float:
    """Set the volume fractions of the extraction solvents within an organic layer, 0 if there are
    none: the volume of all of them [mL]."""
    total = 0.0
    for s in range(len(solvents)):
        i = solvents[s].row
        solvents[s].fraction = organic[i] * components[i].molar_volume
        total += solvents[s].fraction
    for s in range(len(solvents)):
        solvents[s].fraction = solvents[s].fraction / total if total > 0.0 else 0.0
    return total


@inner
def water_held_mmol(organic: Vector, components: Components, solvents: Solvents) -> float:
    """Water an organic layer dissolves at water activity 1 [mmol].

    The sum over its extraction solvents of their volume times their own solubility; the rest of
    the layer (product, starting material) is taken to dissolve none.
    """
    held = 0.0
    for s in range(len(solvents)):
        i = solvents[s].row
        held += organic[i] * components[i].molar_volume * solvents[s].water_in_solvent
    return held


@entry
def _volumes(amounts: Table, components: Components) -> Array:
    found = np.empty(amounts.shape[1])
    for n in range(amounts.shape[1]):
        found[n] = volume_mL(amounts[:, n].copy(), components)
    return found


@entry
def _salts(aqueous: Table, components: Components) -> Array:
    found = np.empty(aqueous.shape[1])
    for n in range(aqueous.shape[1]):
        found[n] = salt_in(aqueous[:, n].copy(), components)
    return found


@entry
def _activities(aqueous: Table, water: int, components: Components) -> Array:
    found = np.empty(aqueous.shape[1])
    for n in range(aqueous.shape[1]):
        found[n] = activity_of_water(aqueous[:, n].copy(), water, components)
    return found


def volumes_mL(inv: Inventory, amounts: Array) -> Array:
    """``volume_mL`` in every draw, (C, N) mmol -> (N,)."""
    return np.asarray(_volumes(np.ascontiguousarray(amounts), inv.constants.components))


def salt_mmol(inv: Inventory, aqueous: Array) -> Array:
    """``salt_in`` in every draw, (C, N) -> (N,)."""
    return np.asarray(_salts(np.ascontiguousarray(aqueous), inv.constants.components))


def water_activity(inv: Inventory, aqueous: Array) -> Array:
    """``activity_of_water`` in every draw, (C, N) mmol -> (N,), 0..1."""
    return np.asarray(_activities(
        np.ascontiguousarray(aqueous), inv.water, inv.constants.components))
