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

import numpy as np
from numpy.typing import NDArray

from .sums import over_rows

Array = NDArray[np.float64]

_BISECTIONS = 100
_XI_SPAN = 80.0


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


def boil_down(amounts: Array, pressure: Array, until_Pa: float) -> Array:
    """xi at which the total pressure over the mixture has fallen to ``until_Pa``, (N,).

    ``amounts`` (C, N) mmol, ``pressure`` (C, N) Pa. Zero where it does not boil at all. Found by
    bisection: the pressure over the mixture falls steadily along the path.

    Equal parts of 100 and 10 Pa stand under 55 Pa; at 20 Pa an eighth is the volatile one, whose
    ratio to the other fell by exp(-90 xi) from 1 to 1/8:

    >>> xi = boil_down(np.array([[1.0], [1.0]]), np.array([[100.0], [10.0]]), 20.0)
    >>> bool(abs(xi[0] - np.log(8.0) / 90.0) < 1e-9)
    True
    """
    least = np.where(pressure > 0, pressure, np.inf).min(axis=0)

    def total_pressure(xi: Array) -> Array:
        left = amounts * np.exp(-pressure * xi)
        moles = over_rows(left)
        vapour = over_rows(left * pressure)
        return np.where(moles > 0, vapour / np.where(moles > 0, moles, 1.0), 0.0)

    low = np.zeros(amounts.shape[1])
    high = _XI_SPAN / np.clip(least, 1.0, 1e9)
    boils = total_pressure(low) > until_Pa
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        above = total_pressure(middle) > until_Pa
        low = np.where(above, middle, low)
        high = np.where(above, high, middle)
    return np.where(boils, high, 0.0)


def sweep(solvent_Pa: Array, minutes: Array | float, half_life_min: Array) -> Array:
    """Further xi from sweeping on: the solvent halves every ``half_life_min``, (N,).

    >>> xi = sweep(np.array([2000.0]), 3.0, np.array([1.5]))
    >>> round(float(np.exp(-2000.0 * xi)[0]), 6)
    0.25
    """
    return np.asarray(np.log(2.0) * minutes / half_life_min / np.maximum(solvent_Pa, 1e-9))
