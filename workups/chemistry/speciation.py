"""Protonation states and the pH that balances the charge.

States of one substance with charge ``top`` when fully protonated: z = top - j after losing j
protons, weight w_j = prod_{k<=j} K_k / h^j with h = [H+] (mol/L). The neutral form alone enters
an organic layer; there it counts as one more state of charge 0 with weight K r w_neutral.

With x = ln h the charge of a substance rises with x at the rate Var(z) >= 0, so the balance

    f(x) = h - Kw/h + S/V + sum_i (n_i/V) zbar_i(x)  =  0

has one root, found by Newton steps kept inside a shrinking bracket.

Where the neutral form is limited to s (a gas held by the air above, a solid at its solubility),
no more than s (1/alpha_neutral + e) of the substance is dissolved per litre of water, e being
what other places hold per neutral in the water; the smaller of this and what there is counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import Cube, Table, Vector, entry, inner, records
from .constants import KW
from .gel import most_dissolved
from .mixture import ACID, Acids

Array = NDArray[np.float64]

LN_10 = math.log(10.0)
_X_LOW, _X_HIGH = -16.0 * LN_10, 2.0 * LN_10
X_NEUTRAL = -7.0 * LN_10
# A Newton step d leaves an error of about d*d, whatever the mixture; a kink may be in the way.
_LAST_NEWTON, _LAST_STEP = 3e-8, 1e-12
_MAX_STEPS = 120
_HALF = 0.5
# The balance cannot be told from 0 below the rounding of its own terms.
_ROUNDING = 4.5e-16


class NotConverged(ArithmeticError):
    """An iteration did not reach its tolerance; the message says which and how far it was."""


@inner
def states(constants: Any, levels: int, top: int, h: Any) -> tuple[Any, Any, Any, Any]:
    """Sums over the states in water of one substance: w, w of the neutral form, z w and z^2 w.

    ``constants`` its acid constants [mol/L], ``levels`` how many; ``top`` the charge of the fully
    protonated form; ``h`` [H+] in mol/L. A share or a mean charge is one of them over the first.

    Half of an acid is neutral at the pH of its pKa:

    >>> water, neutral, charge, _ = states((1e-5,), 1, 0, 1e-5)
    >>> round(neutral / water, 9), round(charge / water, 9)
    (0.5, -0.5)
    """
    z, weight, water, per_h = 1.0 * top, 1.0, 1.0, 1.0 / h
    neutral = 1.0 if top == 0 else 0.0
    first, second = z, z * z
    for j in range(levels):
        z, weight = z - 1.0, weight * (constants[j] * per_h)
        water = water + weight
        first = first + z * weight
        second = second + z * z * weight
        if z == 0:
            neutral = weight
    return water, neutral, first, second


class Water(NamedTuple):
    """What besides acids and bases is in a litre of water that takes part in the charge balance:
    ``strong`` charge of the fully dissociated ions and ``magnesium`` (dissolved and solid) in mol,
    and ``gel_product``, K_sp of its hydroxide."""

    strong: float
    magnesium: float
    gel_product: float


@inner
def most_in_water(limit: float, elsewhere: float, water: float, neutral: float) -> float:
    """The most of a substance that is dissolved, mol per litre of water: s (1/alpha + e)."""
    return limit / neutral * water + limit * elsewhere


@inner
def _charge(
    acids: Acids, constants: Table, at: Water, x: float
) -> tuple[float, float, float]:
    """Charge [mol/L] at ln [H+] = x, its slope, and the size of the terms it is made of.

    The strong ions are counted in all places, so a cation that left as a pair still counts.
    """
    h = math.exp(x)
    hydroxide = KW / h
    total, slope, size = 0.0, 0.0, 0.0
    for a in range(len(acids)):
        acid = acids[a]
        water, neutral, first, second = states(constants[a], acid.levels, acid.top, h)
        per_weight = 1.0 / (water + acid.pull * neutral + acid.pairs)
        mean = (first + acid.top * acid.pairs) * per_weight
        variance = (second + acid.top * acid.top * acid.pairs) * per_weight - mean * mean
        amount = acid.amount
        rise = amount * variance
        if acid.limit < math.inf:
            most = most_in_water(acid.limit, acid.elsewhere, water, neutral)
            if most < amount:
                amount = most
                rise = most * variance + acid.limit / neutral * first * mean
        charge = amount * mean
        total, slope, size = total + charge, slope + rise, size + abs(charge)
    ends = h + hydroxide
    value, slope = h - hydroxide + at.strong + total, ends + slope
    size += ends + abs(at.strong)
    if at.magnesium > 0.0:
        most = most_dissolved(h, at.gel_product)
        if at.magnesium > most:
            out = 2.0 * (at.magnesium - most)
            value, slope, size = value - out, slope + 4.0 * most, size + out
    return value, slope, size


@inner
def balanced(
    acids: Acids, constants: Table, at: Water, guess: float
) -> tuple[float, float, float]:
    """ln [H+] that balances the charge, by Newton steps from a guess that stay in a bracket.

    With it how far rounding leaves it open: near an equivalence point nothing buffers, and the pH
    hangs on the last digits of the amounts. Last, how wide the bracket still is where no root was
    found in 120 steps, which bisection alone would not need; infinite for what is no number.

    Of each acid or base: ``amount`` mol per litre of water, both layers together, ``pull``
    K Vorg/Vaq, ``pairs`` K_ip [X-] Vorg/Vaq of the fully protonated form that leaves as ion pairs,
    ``limit`` s of the neutral form [mol/L] (infinite: none) and ``elsewhere`` e; ``constants`` (A,
    levels) mol/L.
    """
    low, high = _X_LOW, _X_HIGH
    x = min(max(guess, low), high)
    last_move = high - low
    enough = _LAST_STEP if at.magnesium > 0.0 else _LAST_NEWTON
    for a in range(len(acids)):
        if acids[a].limit < math.inf:
            enough = _LAST_STEP
    for _ in range(_MAX_STEPS):
        value, slope, size = _charge(acids, constants, at, x)
        if math.isnan(value):
            return x, 0.0, math.inf
        if value < 0.0:
            low = x
        elif value > 0.0:
            high = x
        newton = x - value / slope
        step = abs(newton - x)
        if abs(value) <= _ROUNDING * size or step <= _LAST_STEP:
            return x, _ROUNDING * size / slope, 0.0
        near = enough
        if not (low < newton < high and step <= _HALF * last_move):
            newton, near = _HALF * (low + high), _LAST_STEP
        x, last_move = newton, abs(newton - x)
        if last_move <= near:
            return x, _ROUNDING * size / slope, 0.0
    return x, 0.0, high - low


@dataclass(frozen=True)
class Ionisable:
    """One substance that takes part in the charge balance.

    ``constants`` are its acid constants (mol/L), shape (levels, N); ``top`` the charge of the
    fully protonated form. ``row`` is its row among the components.
    """

    row: int
    top: int
    constants: Array

    def states(self, h: Array | float) -> tuple[Any, Any, Any, Any]:
        """``states`` of this substance at [H+] = h [mol/L], (N,) each."""
        return states(self.constants, len(self.constants), self.top, h)

    def neutral_share(self, h: Array | float) -> Array:
        """Share of the substance in water that carries no charge, (N,)."""
        water, neutral, _, _ = self.states(h)
        return np.asarray(neutral / water)


def gathered(acids: Sequence[Ionisable], count: int) -> tuple[NDArray[np.void], Array]:
    """The substances as records (A,), and their acid constants (A, levels, N), 0 where a substance
    has no such level."""
    levels = max((len(a.constants) for a in acids), default=0)
    kinds, constants = records(len(acids), ACID), np.zeros((len(acids), levels, count))
    kinds["row"], kinds["top"] = [a.row for a in acids], [a.top for a in acids]
    kinds["levels"] = [len(a.constants) for a in acids]
    for row, acid in zip(constants, acids, strict=True):
        row[:len(acid.constants)] = acid.constants
    return kinds, constants


@dataclass(frozen=True)
class Limit:
    """A neutral form that is limited in the water: ``index`` among the acids, ``concentration``
    s [mol/L], ``elsewhere`` e, dimensionless, (N,) each."""

    index: int
    concentration: Array
    elsewhere: Array


class _Held(NamedTuple):
    """Of each substance (A, N): mol per litre of water, pull, limit and elsewhere."""

    amount: Table
    pull: Table
    limit: Table
    elsewhere: Table


@entry
def _balanced_draws(
    acids: Acids, constants: Cube, held: _Held, strong: Vector
) -> tuple[Array, Array]:
    draws, levels = len(strong), constants.shape[1]
    found, off = np.empty(draws), np.empty(draws)
    own = np.empty((len(acids), levels))
    for n in range(draws):
        for a in range(len(acids)):
            acid = acids[a]
            acid.amount, acid.pull = held.amount[a, n], held.pull[a, n]
            acid.limit, acid.elsewhere = held.limit[a, n], held.elsewhere[a, n]
            for j in range(levels):
                own[a, j] = constants[a, j, n]
        found[n], _, off[n] = balanced(acids, own, Water(strong[n], 0.0, 0.0), X_NEUTRAL)
    return found, off


def balance_charge(
    acids: Sequence[Ionisable],
    amounts: Array,
    pulls: Array,
    strong_mmol: Array,
    water_mL: Array,
    limits: Sequence[Limit] = (),
) -> Array:
    """ln [H+] that balances the charge of a water layer, (N,); [H+] in mol/L.

    Parameters
    ----------
    acids : substances with acid constants, A of them.
    amounts : their total amounts, both layers together [mmol], shape (A, N).
    pulls : K*Vorg/Vaq of each, shape (A, N).
    strong_mmol : net charge of the fully dissociated ions [mmol], shape (N,).
    water_mL : volume of the water layer [mL], shape (N,).
    limits : neutral forms that are limited in the water.

    Ideal activities: about 0.3 pH in 0.6 M salt.

    Raises
    ------
    NotConverged : where there is no root to be found, or for what is no number.

    0.1 mol/L of an acid of pKa 4.76, half of it neutralised, has pH 4.76:

    >>> acid = Ionisable(0, 0, np.array([[10.0**-4.76]]))
    >>> one = np.ones(1)
    >>> found = balance_charge([acid], 0.1 * one[None], 0.0 * one[None], 0.05 * one, one)
    >>> round(float(-found[0] / np.log(10.0)), 2)
    4.76
    """
    most, elsewhere = np.full(amounts.shape, np.inf), np.zeros(amounts.shape)
    for limit in limits:
        most[limit.index], elsewhere[limit.index] = limit.concentration, limit.elsewhere
    held = _Held(amounts / water_mL, np.ascontiguousarray(pulls), most, elsewhere)
    found, off = _balanced_draws(
        *gathered(acids, len(water_mL)), held, strong_mmol / water_mL)
    refuse_unbalanced(off)
    return found


def refuse_unbalanced(off: Array) -> None:
    """Raise NotConverged where a charge balance found no root: ``off`` its bracket, (N,)."""
    if bool(np.isinf(off).any()):
        raise NotConverged("pH: an amount or a volume is not a number")
    if bool(off.any()):
        raise NotConverged(f"pH: bracket still {float(np.max(off)):.2e} wide (in ln [H+]) after "
                           f"{_MAX_STEPS} steps")


def shares_in_water(acids: Sequence[Ionisable], x: Array, pulls: Array) -> Array:
    """Share of each substance's dissolved amount that is in the water layer, (A, N).

    1/(1 + D Vorg/Vaq), D = K alpha_neutral; an acid at the pH of its pKa, K Vorg/Vaq = 8:

    >>> acid = Ionisable(0, 0, np.array([[1e-5]]))
    >>> share = shares_in_water([acid], np.log(np.array([1e-5])), np.array([[8.0]]))
    >>> round(float(share[0, 0]), 6)
    0.2
    """
    shares = []
    for acid, pull in zip(acids, pulls, strict=True):
        water, neutral, _, _ = acid.states(np.exp(x))
        shares.append(water / (water + pull * neutral))
    return np.stack(shares)
