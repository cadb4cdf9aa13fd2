"""What two given layers are like: partition coefficients, vapours over them, room for CO2.

``aqueous`` and ``organic`` are amounts [mmol] in one draw, of the components of a ``Mixture``.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from .compiled import Table, Vector, entry, inner
from .constants import ATMOSPHERE_PA, GAS_CONSTANT_J_MOL_K, KELVIN_AT_0_C
from .mixture import Constants, Mixture, in_draw, room_for
from .sums import over_rows
from .water import activity_of_water, salt_in, share_solvents, volume_mL, water_held_mmol

if TYPE_CHECKING:
    from .components import Inventory

Array = NDArray[np.float64]

NOT_EXTRACTED = -30.0
_TAKEN_UP_FROM = NOT_EXTRACTED / 2
_LEAST_CO2_PA = 5e3
_LEAST_ML = 1e-9
# Far beyond any; the salt of a water layer that is nearly gone would put it higher.
_MOST_LOG10_K = 30.0
_LN_10 = math.log(10.0)


@inner
def molar_gas_volume_mL(celsius: float) -> float:
    """Volume of 1 mmol of ideal gas at 1 atm [mL].

    >>> round(molar_gas_volume_mL(20.0), 2)
    24.06
    """
    return GAS_CONSTANT_J_MOL_K * (celsius + KELVIN_AT_0_C) / ATMOSPHERE_PA * 1e3


@inner
def dimer_gain(concentration: Any, constant: Any) -> Any:
    """Acid in all per acid as monomer, where 2 A = A2 with K2 = [A2]/[A]^2.

    c = m + 2 K2 m^2, so c/m = (1 + sqrt(1 + 8 K2 c))/2: 1 in a dilute layer, and rising with the
    root of c where nearly all is dimer. c in mol/L, K2 in L/mol. Different acids pair with each
    other as often as chance has it (mixed dimers of chloroacetic and decanoic acids in benzene,
    abstract), so c counts them all. In a mixed solvent K2 is the mean by volume.

    >>> round(float(dimer_gain(0.2, 400.0)), 2)
    13.16
    """
    return 0.5 * (1.0 + np.sqrt(1.0 + 8.0 * constant * concentration))


@inner
def _log10_in_mixture(m: Mixture, octanol: float, i: int) -> float:
    """log10 K of component ``i`` in the solvents of a layer, each counting by volume fraction."""
    share, mean, all_take, some_take = 0.0, 0.0, True, False
    for s in range(len(m.log10_K)):
        fraction = m.solvents[s].fraction if s < len(m.solvents) else octanol
        if m.log10_K[s, i] > _TAKEN_UP_FROM:
            some_take = True
            share += fraction
            mean += fraction * m.log10_K[s, i]
        else:
            all_take = False
    if not some_take or (share <= 0.0 and not all_take):
        return NOT_EXTRACTED
    return mean if all_take else mean / share + math.log10(share)


@inner
def set_partition(m: Mixture, aqueous: Vector, organic: Vector) -> float:
    """Set K of every component for the layers as they are, mol/L over mol/L, and the fractions of
    the solvents: the volume of the solvents [mL].

    Mixed solvents: mean of log10 K over the solvents by volume fraction; a solvent that takes up
    none of a substance counts as if it were not there. Where there is no solvent, the last row of
    ``log10_K`` holds: a liquid's own solubility in water, octanol for the rest. Salting out:
    + ks [salt]. Co-solvent: - sigma f, f the volume fraction of co-solvent in the water layer.
    Carboxylic acids: times what dimers hold beside each monomer (``dimer_gain``).
    """
    solvent_mL = share_solvents(organic, m.components, m.solvents)
    octanol = 0.0 if solvent_mL > 0.0 else 1.0
    acids, cosolvent = 0.0, 0.0
    for i in range(len(aqueous)):
        if m.components[i].dimerises:
            acids += organic[i]
        if m.components[i].cosolvent:
            cosolvent += aqueous[i] * m.components[i].molar_volume
    water_mL = max(volume_mL(aqueous, m.components), _LEAST_ML)
    organic_mL = volume_mL(organic, m.components)
    salt, cosolvent = salt_in(aqueous, m.components) / water_mL, cosolvent / water_mL
    constant = 0.0
    for s in range(len(m.solvents)):
        constant += m.solvents[s].fraction * m.solvents[s].dimerisation
    gain = dimer_gain(acids / organic_mL, constant) if organic_mL > 0.0 else 1.0
    for i in range(len(aqueous)):
        component = m.components[i]
        component.K = 0.0
        log10_K = _log10_in_mixture(m, octanol, i)
        if log10_K > NOT_EXTRACTED:
            log10_K += component.setschenow * salt - component.cosolvency * cosolvent
            component.K = math.exp(_LN_10 * min(log10_K, _MOST_LOG10_K))
            if component.dimerises:
                component.K *= gain
    return solvent_mL


@inner
def set_vapour_Pa(m: Mixture, aqueous: Vector, organic: Vector) -> float:
    """Set the partial pressures [Pa] over a flask at the temperature of the room, those of
    extraction solvents and water, and say their sum.

    Of a solvent by its mole fraction in the organic layer, or where there is none by how near the
    water layer is to saturation; of water by the activity of the water layer.
    """
    moles, total = 0.0, 0.0
    for i in range(len(organic)):
        moles += organic[i]
        m.components[i].pressure = 0.0
    water_mL = 0.0 if moles > 0.0 else max(volume_mL(aqueous, m.components), _LEAST_ML)
    for s in range(len(m.solvents)):
        i = m.solvents[s].row
        solvent = m.components[i]
        activity = organic[i] / moles if moles > 0.0 else min(
            aqueous[i] / water_mL * 10.0**m.log10_K[s, i] * solvent.molar_volume, 1.0)
        solvent.pressure = activity * solvent.saturation_Pa
        total += solvent.pressure
    activity = activity_of_water(aqueous, m.water, m.components)
    m.components[m.water].pressure = activity * m.components[m.water].saturation_Pa
    return float(total + m.components[m.water].pressure)


@inner
def room_for_co2_Pa(vapours_Pa: Any) -> Any:
    """Partial pressure of CO2 in a bubble at one atmosphere: what the vapours leave of it."""
    return np.maximum(ATMOSPHERE_PA - vapours_Pa, _LEAST_CO2_PA)


@entry
def _partition(c: Constants, aqueous: Table, organic: Table) -> Array:
    found, room = np.empty(aqueous.shape), room_for(c)
    there = np.ones(len(aqueous), np.bool_)
    for n in range(aqueous.shape[1]):
        m = in_draw(c, room, there, n)
        set_partition(m, aqueous[:, n].copy(), organic[:, n].copy())
        for i in range(len(aqueous)):
            found[i, n] = m.components[i].K
    return found


@entry
def _vapours(c: Constants, aqueous: Table, organic: Table) -> Array:
    found, room = np.empty(aqueous.shape), room_for(c)
    there = np.ones(len(aqueous), np.bool_)
    for n in range(aqueous.shape[1]):
        m = in_draw(c, room, there, n)
        set_vapour_Pa(m, aqueous[:, n].copy(), organic[:, n].copy())
        for i in range(len(aqueous)):
            found[i, n] = m.components[i].pressure
    return found


@entry
def _fractions(c: Constants, organic: Table) -> tuple[Array, Array]:
    found, held = np.empty(c.water_in_solvent.shape), np.empty(organic.shape[1])
    room, there = room_for(c), np.ones(len(organic), np.bool_)
    for n in range(organic.shape[1]):
        m, layer = in_draw(c, room, there, n), organic[:, n].copy()
        share_solvents(layer, m.components, m.solvents)
        held[n] = water_held_mmol(layer, m.components, m.solvents)
        for s in range(len(m.solvents)):
            found[s, n] = m.solvents[s].fraction
    return found, held


def partition_coefficients(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """``set_partition`` in every draw, (C, N)."""
    return np.asarray(_partition(
        inv.constants, np.ascontiguousarray(aqueous), np.ascontiguousarray(organic)))


def vapour_Pa(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """``set_vapour_Pa`` in every draw, (C, N)."""
    return np.asarray(_vapours(
        inv.constants, np.ascontiguousarray(aqueous), np.ascontiguousarray(organic)))


def co2_room_Pa(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """``room_for_co2_Pa`` in every draw, (N,)."""
    return np.asarray(room_for_co2_Pa(over_rows(vapour_Pa(inv, aqueous, organic))))


def solvent_fractions(inv: Inventory, organic: Array) -> Array:
    """Volume fractions of the extraction solvents within an organic layer, (S, N); 0 if none."""
    return np.asarray(_fractions(inv.constants, np.ascontiguousarray(organic))[0])


def water_capacity_mmol(inv: Inventory, organic: Array) -> Array:
    """``water_held_mmol`` in every draw, (C, N) -> (N,)."""
    return np.asarray(_fractions(inv.constants, np.ascontiguousarray(organic))[1])
