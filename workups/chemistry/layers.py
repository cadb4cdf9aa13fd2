"""What two given layers are like: partition coefficients, vapours over them, room for CO2."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .components import NOT_EXTRACTED, Inventory
from .constants import ATMOSPHERE_PA, GAS_CONSTANT_J_MOL_K, KELVIN_AT_0_C
from .sums import over_rows
from .water import salt_mmol, solvent_fractions, water_activity

Array = NDArray[np.float64]

_LEAST_CO2_PA = 5e3
_LEAST_ML = 1e-9
# Far beyond any; the salt of a water layer that is nearly gone would put it higher.
_MOST_LOG10_K = 30.0
_LN_10 = float(np.log(10.0))


def molar_gas_volume_mL(celsius: float) -> float:
    """Volume of 1 mmol of ideal gas at 1 atm [mL].

    >>> round(molar_gas_volume_mL(20.0), 2)
    24.06
    """
    return GAS_CONSTANT_J_MOL_K * (celsius + KELVIN_AT_0_C) / ATMOSPHERE_PA * 1e3


def partition_coefficients(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """K of every component for the layers as they are, mol/L over mol/L, (C, N).

    Mixed solvents: mean of log10 K over the solvents by volume fraction; a solvent that takes up
    none of a substance counts as if it were not there. Salting out: + ks [salt]. Co-solvent:
    - sigma f, f the volume fraction of co-solvent in the water layer. Carboxylic acids: times
    what dimers hold beside each monomer (``dimer_gain``).
    """
    fractions = solvent_fractions(inv, organic)
    weights = np.concatenate((fractions, (fractions.sum(axis=0) <= 0)[None] * 1.0))
    log_k = weights[0] * inv.log10_K[0]
    for weight, own in zip(weights[1:], inv.log10_K[1:], strict=True):
        log_k = log_k + weight * own
    for row, taking in inv.partly_extracted:
        log_k[row] = _of_those_that_take(weights[taking], inv.log10_K[taking, row])
    log_k = log_k + _shift(inv, aqueous)
    k = np.exp(_LN_10 * np.minimum(log_k, _MOST_LOG10_K))
    k[inv.never_extracted] = 0.0
    if inv.dimerising.size and inv.dimerisation.any():
        k[inv.dimerising] *= _gain_of_acids(inv, organic, fractions)
    return np.asarray(k)


def dimer_gain(concentration: Array, constant: Array) -> Array:
    """Acid in all per acid as monomer, where 2 A = A2 with K2 = [A2]/[A]^2.

    c = m + 2 K2 m^2, so c/m = (1 + sqrt(1 + 8 K2 c))/2: 1 in a dilute layer, and rising with the
    root of c where nearly all is dimer. c in mol/L, K2 in L/mol. Different acids pair with each
    other as often as chance has it (mixed dimers of chloroacetic and decanoic acids in benzene,
    abstract), so c counts them all. In a mixed solvent K2 is the mean by volume.

    >>> round(float(dimer_gain(np.array(0.2), np.array(400.0))), 2)
    13.16
    """
    return np.asarray(0.5 * (1.0 + np.sqrt(1.0 + 8.0 * constant * concentration)))


def _gain_of_acids(inv: Inventory, organic: Array, fractions: Array) -> Array:
    volume = inv.volume_mL(organic)
    there = volume > 0
    acids = over_rows(organic[inv.dimerising])
    concentration = np.where(there, acids / np.where(there, volume, 1.0), 0.0)
    return dimer_gain(concentration, over_rows(fractions * inv.dimerisation))


def _shift(inv: Inventory, aqueous: Array) -> Array:
    """Salting out and co-solvent: what they add to log10 K, (C, N)."""
    water_mL = np.maximum(inv.volume_mL(aqueous), _LEAST_ML)
    shift = inv.setschenow * (salt_mmol(inv, aqueous) / water_mL)
    rows = inv.cosolvent_rows
    if rows.size:
        added = over_rows(aqueous[rows] * inv.molar_volume[rows][:, None])
        shift = shift - inv.cosolvency * (added / water_mL)
    return shift


def _of_those_that_take(weights: Array, log10_K: Array) -> Array:
    """log10 K in a mixture of which only these solvents take a substance up, (N,)."""
    share = over_rows(weights)
    there = share > 0
    safe = np.where(there, share, 1.0)
    mean = over_rows(weights * log10_K) / safe
    return np.where(there, mean + np.log10(safe), NOT_EXTRACTED)


def solvent_activities(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """Activity of each extraction solvent, (S, N): mole fraction in the organic layer, or how
    near the water layer is to saturation where there is no organic layer."""
    rows = inv.solvent_rows
    if not rows.size:
        return np.zeros((0, inv.count))
    moles = over_rows(organic)
    in_layer = organic[rows] / np.where(moles > 0, moles, 1.0)
    volume = np.maximum(inv.volume_mL(aqueous), _LEAST_ML)
    own_k = np.stack([inv.log10_K[s, row] for s, row in enumerate(rows)])
    pure = 1.0 / inv.molar_volume[rows][:, None]
    dissolved = aqueous[rows] / volume * 10.0**own_k / pure
    return np.where(moles > 0, in_layer, np.minimum(dissolved, 1.0))


def vapour_Pa(inv: Inventory, aqueous: Array, organic: Array, celsius: float) -> Array:
    """Partial pressures over the flask [Pa], (C, N): extraction solvents and water."""
    saturation = inv.saturation_Pa(celsius)
    pressures = inv.none()
    rows = inv.solvent_rows
    if rows.size:
        pressures[rows] = solvent_activities(inv, aqueous, organic) * saturation[rows][:, None]
    pressures[inv.water] = water_activity(inv, aqueous) * saturation[inv.water]
    return pressures


def co2_room_Pa(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """Partial pressure of CO2 in a bubble at one atmosphere: what the vapours leave of it."""
    vapours = over_rows(vapour_Pa(inv, aqueous, organic, inv.room_C))
    return np.asarray(np.maximum(ATMOSPHERE_PA - vapours, _LEAST_CO2_PA))
