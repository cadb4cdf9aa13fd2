"""Water activity of a water layer, and water dissolved in an organic layer."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import Inventory
from .constants import WATER_G_MOL
from .sums import over_rows

Array = NDArray[np.float64]

# Pitzer's osmotic coefficient of NaCl at 25 C: Debye-Hueckel slope for water, and the parameters
# of Pitzer and Mayorga, J. Phys. Chem. 1973, 77, 2300 (from memory; the saturated solution they
# give, 0.7529, is the one that was read).
_A_PHI, _B = 0.3915, 1.2
_BETA_0, _BETA_1, _C_PHI = 0.0765, 0.2664, 0.00127
_MOLALITY_LIMIT = 8.0


def osmotic_coefficient(molality: Array) -> Array:
    """Osmotic coefficient of aqueous NaCl at 25 C.

    phi - 1 = -A sqrt(m)/(1 + 1.2 sqrt(m)) + m (b0 + b1 exp(-2 sqrt(m))) + m^2 C

    ``molality`` in mol/kg, 0 to saturation (6.1); dimensionless result.

    >>> round(float(osmotic_coefficient(np.array([6.13]))[0]), 2)
    1.28
    """
    root = np.sqrt(molality)
    return np.asarray(
        1.0 - _A_PHI * root / (1.0 + _B * root)
        + molality * (_BETA_0 + _BETA_1 * np.exp(-2.0 * root)) + molality**2 * _C_PHI)


def salt_mmol(inv: Inventory, aqueous: Array) -> Array:
    """Dissolved salt [mmol], counted by the larger of the cation and anion charge, (N,)."""
    cations, anions = inv.cations, inv.anions
    positive = over_rows(inv.strong_charge[cations][:, None] * aqueous[cations])
    negative = over_rows(-inv.strong_charge[anions][:, None] * aqueous[anions])
    return np.asarray(np.maximum(positive, negative))


def water_activity(inv: Inventory, aqueous: Array) -> Array:
    """Water activity of a water layer, (C, N) mmol -> (N,), 0..1.

    All strong electrolytes are taken as sodium chloride (Pitzer), everything else as ideal:
    ln a_w = -M_w (2 m phi + sum of the other molalities). With no water it is 0.
    """
    water = aqueous[inv.water]
    kilograms = np.maximum(water * WATER_G_MOL * 1e-6, 1e-12)
    molality = np.minimum(salt_mmol(inv, aqueous) * 1e-3 / kilograms, _MOLALITY_LIMIT)
    others = over_rows(aqueous[inv.solutes]) - _counterpart(inv, aqueous)
    others = np.maximum(others, 0.0) * 1e-3 / kilograms
    exponent = 2.0 * molality * osmotic_coefficient(molality) + others
    return np.where(water > 1e-9, np.exp(-WATER_G_MOL * 1e-3 * exponent), 0.0)


def _counterpart(inv: Inventory, aqueous: Array) -> Array:
    """Charge of weak acids and bases that stands in for a missing strong counter-ion [mmol]."""
    return np.abs(inv.strong_mmol(aqueous))


def solvent_fractions(inv: Inventory, organic: Array) -> Array:
    """Volume fractions of the extraction solvents within an organic layer, (S, N); 0 if none."""
    volumes = organic[inv.solvent_rows] * inv.molar_volume[inv.solvent_rows][:, None]
    total = over_rows(volumes)
    return np.where(total > 0, volumes / np.where(total > 0, total, 1.0), 0.0)


def water_capacity_mmol(inv: Inventory, organic: Array) -> Array:
    """Water an organic layer dissolves at water activity 1 [mmol], (N,).

    The sum over its extraction solvents of their volume times their own solubility; the rest of
    the layer (product, starting material) is taken to dissolve none.
    """
    volumes = organic[inv.solvent_rows] * inv.molar_volume[inv.solvent_rows][:, None]
    return over_rows(volumes * inv.water_in_solvent)
