"""One shake: two layers come to equilibrium, gas comes off, and a stopper would hold a pressure.

CO2 beyond saturation leaves as bubbles that are saturated with solvent and water vapour, at one
atmosphere in all; so more vapour-laden gas comes off than there is CO2.

Hydrogen and methane leave whole. Left out: what stays dissolved at 1 atm, below 1.5 mmol per
litre of water and 5 to 25 of solvent (from memory), about 1 mmol or 25 mL of gas in 50 mL of
ether; and that such bubbles also carry some CO2 off.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .components import Inventory
from .constants import ATMOSPHERE_PA, GAS_CONSTANT_J_MOL_K, KELVIN_AT_0_C
from .equilibrium import Split, Surroundings, split_layers
from .layers import (
    co2_room_Pa,
    vapour_Pa,
)
from .sums import over_rows, share_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Contact:
    """A shake with what came off: dry gas [mmol] (CO2, hydrogen, methane), everything that left
    as gas or vapour (C, N).

    ``stoppered_Pa`` absolute pressure if the funnel had been stoppered at once, (N,).
    """

    split: Split
    escaped: Array
    gas_mmol: Array
    co2_Pa: Array
    stoppered_Pa: Array


def contact(
    inv: Inventory, totals: Array, *, capacity_mL: float | None = None, solids: bool = False
) -> Contact:
    """Shake everything in a flask, let the gas out, and say what pressure a stopper would hold.

    Parameters
    ----------
    totals : amounts in the flask [mmol], (C, N).
    capacity_mL : capacity of the funnel; with it the closed pressure is worked out.
    solids : whether substances may come out as solids.

    Returns
    -------
    Contact. Escaped gas is saturated with solvent and water vapour:
    n_j = n_gas p_j/p_gas (never more than 95 % of what there is of j).
    """
    totals, given_off = _without_insoluble(inv, totals)
    split = split_layers(inv, totals, Surroundings(open_air=True, solids=solids))
    others = over_rows(given_off[inv.insoluble_gases]) if inv.insoluble_gases.size else np.zeros(
        inv.count)
    without_co2 = inv.co2 is None or not np.any(totals[inv.co2] > 0)
    if without_co2 and not bool(others.any()):
        pressure = over_rows(vapour_Pa(inv, split.aqueous, split.organic))
        return Contact(split, inv.none(), others, others, ATMOSPHERE_PA + pressure)
    stoppered = _stoppered_Pa(inv, totals, others, capacity_mL, solids, split)
    room = co2_room_Pa(inv, split.aqueous, split.organic)
    gas = split.released + others
    if not bool(gas.any()):
        return Contact(split, inv.none(), gas, room, stoppered)
    escaped = _carried_off(inv, split, gas, room)
    aqueous, organic = _without_vapour(inv, split, escaped)
    escaped += given_off
    if inv.co2 is not None:
        escaped[inv.co2] = split.released
    after = replace(split, aqueous=aqueous, organic=organic)
    return Contact(after, escaped, gas, room, stoppered)


def _without_insoluble(inv: Inventory, totals: Array) -> tuple[Array, Array]:
    """Amounts without the gases that hardly dissolve, and those gases, (C, N) each."""
    rows, given_off = inv.insoluble_gases, inv.none()
    if not rows.size:
        return totals, given_off
    given_off[rows] = totals[rows]
    return totals - given_off, given_off


def _carried_off(inv: Inventory, split: Split, gas: Array, room: Array) -> Array:
    """Solvent and water vapour that leave with the gas [mmol], (C, N)."""
    pressures = vapour_Pa(inv, split.aqueous, split.organic)
    carried = pressures / room * gas
    return np.asarray(np.minimum(carried, 0.95 * (split.aqueous + split.organic)))


def _without_vapour(inv: Inventory, split: Split, escaped: Array) -> tuple[Array, Array]:
    """Take what escaped as vapour out of both layers in proportion (CO2 is already out)."""
    aqueous, organic = split.aqueous.copy(), split.organic.copy()
    for row in (*inv.solvent_rows.tolist(), inv.water):
        total = aqueous[row] + organic[row]
        share = share_of(escaped[row], total)
        aqueous[row] = aqueous[row] * (1.0 - share)
        organic[row] = organic[row] * (1.0 - share)
    return aqueous, organic


def _stoppered_Pa(
    inv: Inventory, totals: Array, others: Array, capacity_mL: float | None, solids: bool,
    opened: Split,
) -> Array:
    """Absolute pressure in a funnel stoppered at once: air, vapours, CO2 and other gases."""
    if capacity_mL is None:
        return np.full(inv.count, ATMOSPHERE_PA)
    headspace = np.maximum(capacity_mL - inv.volume_mL(totals), 0.05 * capacity_mL)
    shut = split_layers(
        inv, totals, Surroundings(headspace_mL=headspace, solids=solids), start=opened)
    mol, kelvin = (shut.headspace_mmol + others) * 1e-3, inv.room_C + KELVIN_AT_0_C
    gases = mol * GAS_CONSTANT_J_MOL_K * kelvin / (headspace * 1e-6)
    vapours = over_rows(vapour_Pa(inv, shut.aqueous, shut.organic))
    return np.asarray(ATMOSPHERE_PA + vapours + gases)
