"""Protonation states and the pH that balances the charge.

States of one substance with charge ``top`` when fully protonated: z = top - j after losing j
protons, weight w_j = prod_{k<=j} K_k / h^j with h = [H+] (mol/L). The neutral form alone enters
an organic layer; there it counts as one more state of charge 0 with weight K r w_neutral.

With x = ln h the charge of a substance rises with x at the rate Var(z) >= 0, so the balance

    f(x) = h - Kw/h + S/V + sum_i (n_i/V) zbar_i(x)  =  0

has one root, found by Newton steps kept inside a shrinking bracket.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

KW = 1.0e-14
_X_LOW, _X_HIGH = -16.0 * np.log(10.0), 2.0 * np.log(10.0)
_TOLERANCE = 1e-13
_MAX_STEPS = 120
_HALF = 0.5
# The balance cannot be told from 0 below the rounding of its own terms.
_ROUNDING = 4.5e-16


class NotConverged(ArithmeticError):
    """An iteration did not reach its tolerance; the message says which and how far it was."""


@dataclass(frozen=True)
class Ionisable:
    """One substance that takes part in the charge balance.

    ``constants`` are its acid constants (mol/L), shape (levels, N); ``top`` the charge of the
    fully protonated form. ``row`` is its row among the components.
    """

    row: int
    top: int
    constants: Array

    def weights(self, h: Array) -> list[Array]:
        """Relative amounts of the states in water, state j having lost j protons."""
        weights = [np.ones_like(h)]
        for constant in self.constants:
            weights.append(weights[-1] * (constant / h))
        return weights

    def neutral_share(self, h: Array) -> Array:
        """Share of the substance in water that carries no charge, shape (N,)."""
        if not 0 <= self.top < len(self.constants) + 1:
            return np.zeros_like(h)
        weights = self.weights(h)
        total = weights[0]
        for w in weights[1:]:
            total = total + w
        return weights[self.top] / total


def _moments(acid: Ionisable, h: Array, pull: Array) -> tuple[Array, Array, Array]:
    """Mean charge, its variance and the share in water.

    ``pull`` is K*Vorg/Vaq (plus the headspace term for a gas): how strongly the neutral form is
    drawn out of the water.
    """
    weights = acid.weights(h)
    in_water = weights[0]
    first = acid.top * weights[0]
    second = acid.top * acid.top * weights[0]
    for j, w in enumerate(weights[1:], start=1):
        z = acid.top - j
        in_water = in_water + w
        first = first + z * w
        second = second + (z * z) * w
    total = in_water
    if 0 <= acid.top < len(weights):
        total = in_water + pull * weights[acid.top]
    mean = first / total
    return mean, second / total - mean * mean, in_water / total


@dataclass(frozen=True)
class Saturated:
    """A volatile acid held at a fixed neutral concentration (mol/L) in some draws.

    ``which`` (N,) says in which draws; there its total amount is whatever the pH asks for.
    """

    row: int
    concentration: Array
    which: NDArray[np.bool_]


def _held_moments(acid: Ionisable, h: Array, concentration: Array) -> tuple[Array, Array]:
    """Charge concentration and its slope for a substance held at fixed neutral concentration."""
    weights = acid.weights(h)
    neutral = weights[acid.top]
    charge = np.zeros_like(h)
    slope = np.zeros_like(h)
    for j, w in enumerate(weights):
        z = acid.top - j
        charge = charge + z * (concentration * w / neutral)
        slope = slope + (z * z) * (concentration * w / neutral)
    return charge, slope


def balance_charge(
    acids: list[Ionisable],
    amounts: Array,
    pulls: Array,
    strong_mmol: Array,
    water_mL: Array,
    held: Saturated | None = None,
    guess: Array | None = None,
) -> Array:
    """ln [H+] that balances the charge of the water layer.

    Parameters
    ----------
    acids : substances with acid constants.
    amounts : their total amounts, both layers together [mmol], shape (len(acids), N).
    pulls : K*Vorg/Vaq of each, shape (len(acids), N).
    strong_mmol : net charge of the fully dissociated ions [mmol], shape (N,).
    water_mL : volume of the water layer [mL], shape (N,).
    held : a gas kept at saturation in some draws.
    guess : starting ln [H+].

    Returns
    -------
    ln [H+] with [H+] in mol/L, shape (N,). Ideal activities: about 0.3 pH in 0.6 M salt.

    Raises
    ------
    NotConverged : after 120 steps, which bisection alone would not need.
    """
    low = np.full_like(water_mL, _X_LOW)
    high = np.full_like(water_mL, _X_HIGH)
    x = np.full_like(water_mL, -7.0 * np.log(10.0)) if guess is None else guess.copy()
    x = np.clip(x, _X_LOW, _X_HIGH)
    strong = strong_mmol / water_mL
    done = np.zeros(x.shape, dtype=bool)
    last_move = high - low
    for _ in range(_MAX_STEPS):
        h = np.exp(x)
        hydroxide = KW / h
        value = h - hydroxide + strong
        slope = h + hydroxide
        size = slope + np.abs(strong)
        for i, acid in enumerate(acids):
            mean, variance, _ = _moments(acid, h, pulls[i])
            concentration = amounts[i] / water_mL
            charge, rise = concentration * mean, concentration * variance
            if held is not None and acid.row == held.row:
                open_charge, open_rise = _held_moments(acid, h, held.concentration)
                charge = np.where(held.which, open_charge, charge)
                rise = np.where(held.which, open_rise, rise)
            value = value + charge
            slope = slope + rise
            size = size + np.abs(charge)
        low = np.where(value < 0, x, low)
        high = np.where(value > 0, x, high)
        newton = x - value / slope
        useful = (newton > low) & (newton < high) & (np.abs(newton - x) <= _HALF * last_move)
        proposal = np.where(useful, newton, _HALF * (low + high))
        last_move = np.abs(proposal - x)
        step = np.abs(value / slope)
        balanced = (np.abs(value) <= _ROUNDING * size) | (step <= _TOLERANCE * np.abs(x))
        x = np.where(done | balanced, x, proposal)
        done = done | balanced | (last_move <= _TOLERANCE * np.abs(x))
        if bool(done.all()):
            return x
    worst = float(np.max(high - low))
    raise NotConverged(f"pH: bracket still {worst:.2e} wide (in ln[H+]) after {_MAX_STEPS} steps")


def share_in_water(acid: Ionisable, x: Array, pull: Array) -> Array:
    """Share of a substance in the water layer at ln [H+] = x, shape (N,)."""
    return _moments(acid, np.exp(x), pull)[2]
