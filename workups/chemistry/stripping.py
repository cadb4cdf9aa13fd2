"""Taking the solvent off: what goes with it and what stays.

Ideal open evaporation: every component leaves in proportion to its own vapour pressure, so

    n_i = n_i(0) exp(-P_i xi)

with one progress variable xi for all (the Rayleigh path). Water dissolved in the solvent counts
with its activity coefficient 1/x_sat, hence alpha = (P_w/P_s)/x_sat. While droplets remain the
water activity is capped at 1 and water leaves as P_w/P_s mol per mol of solvent. The path ends
where the mixture no longer boils at the stated bath and pressure; sweeping on takes more off
with a half-life (common practice).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .compiled import Table, Vector, entry, inner

Array = NDArray[np.float64]

_XI_SPAN, _MOST_STEPS, _SAME_XI = 80.0, 120, 1e-15


def relative_volatility_of_water(water_Pa: float, solvent_Pa: float, x_sat: float) -> float:
    """alpha = (P_water/P_solvent)/x_sat for water dissolved below saturation.

    >>> round(relative_volatility_of_water(3169.0, 71200.0, 0.050), 1)
    0.9
    """
    return water_Pa / solvent_Pa / x_sat


def evaporate_droplets(
    solvent_mmol: Array, droplet_mmol: Array, dissolved_mmol: Array, ratio: Array, x_sat: Array
) -> tuple[Array, Array]:
    """Two-liquid stage: solvent left and water left when the droplets are gone (or all solvent).

    Per mol of solvent ``ratio`` = P_w/P_s mol of water leaves; the layer stays saturated with
    ``x_sat`` mol water per mol solvent. All (N,). Returns (solvent left, all water left).

    Where a mol of solvent carries 0.1 mol of water, 20 mmol of drops leave with 200 mmol of it:

    >>> left = evaporate_droplets(*np.array([[500.0], [20.0], [0.0], [0.1], [0.0]]))
    >>> [round(float(x[0]), 6) for x in left]
    [300.0, 0.0]
    """
    water = droplet_mmol + dissolved_mmol
    # water - ratio (n0 - n) = x_sat n  gives the solvent left when the last droplet goes.
    gap = x_sat - ratio
    left = np.where(np.abs(gap) > 1e-12, (water - ratio * solvent_mmol)
                    / np.where(np.abs(gap) > 1e-12, gap, 1.0), 0.0)
    clears = (left >= 0) & (left <= solvent_mmol) & (droplet_mmol > 0)
    solvent_left = np.where(droplet_mmol <= 0, solvent_mmol, np.where(clears, left, 0.0))
    water_left = np.maximum(water - ratio * (solvent_mmol - solvent_left), 0.0)
    return solvent_left, water_left


@inner
def path_until(amounts: Vector, pressure: Vector, until_Pa: float) -> float:
    """xi at which the total pressure over a mixture, (C,) mmol and Pa, has fallen to ``until_Pa``.

    0 where it does not boil at all, and the end of the path where it still boils there.

    The pressure, the mean of the P_i by amount, falls along the path by their variance: Newton
    steps that stay in a bracket.
    """
    low, high = 0.0, _XI_SPAN / min(max(_least_of(pressure), 1.0), 1e9)
    if _boiling(amounts, pressure, low)[0] <= until_Pa:
        return 0.0
    if _boiling(amounts, pressure, high)[0] > until_Pa:
        return high
    xi, last_move = low, high
    for _ in range(_MOST_STEPS):
        total, variance = _boiling(amounts, pressure, xi)
        if total > until_Pa:
            low = xi
        else:
            high = xi
        newton = xi + (total - until_Pa) / variance
        if not (low < newton < high and abs(newton - xi) <= 0.5 * last_move):
            newton = 0.5 * (low + high)
        xi, last_move = newton, abs(newton - xi)
        if last_move <= _SAME_XI * xi:
            break
    return xi


@inner
def _least_of(pressure: Vector) -> float:
    least = math.inf
    for i in range(len(pressure)):
        if pressure[i] > 0.0:
            least = min(least, pressure[i])
    return least


@inner
def _boiling(amounts: Vector, pressure: Vector, xi: float) -> tuple[float, float]:
    """Total pressure [Pa] over what is left at xi, and the variance of pressures in it."""
    moles, vapour, square = 0.0, 0.0, 0.0
    for i in range(len(amounts)):
        left = amounts[i] * math.exp(-pressure[i] * xi)
        moles += left
        vapour += left * pressure[i]
        square += left * pressure[i] * pressure[i]
    mean = vapour / moles if moles > 0.0 else 0.0
    return mean, square / moles - mean * mean if moles > 0.0 else 0.0


@entry
def _paths(amounts: Table, pressure: Table, until_Pa: float) -> Array:
    found = np.empty(amounts.shape[1])
    for n in range(amounts.shape[1]):
        found[n] = path_until(amounts[:, n].copy(), pressure[:, n].copy(), until_Pa)
    return found


def boil_down(amounts: Array, pressure: Array, until_Pa: float) -> Array:
    """``path_until`` in every draw: amounts and pressures (C, N) -> xi (N,).

    Equal parts of 100 and 10 Pa stand under 55 Pa; at 20 Pa an eighth is the volatile one, whose
    ratio to the other fell by exp(-90 xi) from 1 to 1/8:

    >>> xi = boil_down(np.array([[1.0], [1.0]]), np.array([[100.0], [10.0]]), 20.0)
    >>> bool(abs(xi[0] - np.log(8.0) / 90.0) < 1e-9)
    True
    """
    return np.asarray(_paths(
        np.ascontiguousarray(amounts), np.ascontiguousarray(pressure), float(until_Pa)))


def sweep(solvent_Pa: Array, minutes: Array | float, half_life_min: Array) -> Array:
    """Further xi from sweeping on: the solvent halves every ``half_life_min``, (N,).

    >>> xi = sweep(np.array([2000.0]), 3.0, np.array([1.5]))
    >>> round(float(np.exp(-2000.0 * xi)[0]), 6)
    0.25
    """
    return np.asarray(np.log(2.0) * minutes / half_life_min / np.maximum(solvent_Pa, 1e-9))
