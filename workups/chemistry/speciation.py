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

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .constants import KW
from .gel import Gel
from .sums import over_rows

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

_X_LOW, _X_HIGH = -16.0 * np.log(10.0), 2.0 * np.log(10.0)
X_NEUTRAL = -7.0 * np.log(10.0)
# A Newton step d leaves an error of about d*d, whatever the mixture; a kink may be in the way.
_LAST_NEWTON, _LAST_STEP = 3e-8, 1e-12
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


@dataclass(frozen=True)
class _Level:
    """One more proton lost, for ``some`` of the substances, S of them: their acid constants
    (S, N), and of the state it leads to, 1 where neutral, charge and its square, (S, 1) each."""

    some: Rows
    constants: Array
    neutral: Array
    charges: Array
    squares: Array


@dataclass(frozen=True)
class Acids:
    """All substances with acid constants together, one row each.

    ``constants`` by level (A, N), 0 where a substance has no such level; ``charges`` by state
    (A, 1); ``neutral`` by state (A, 1), 1 where that state carries no charge.
    """

    rows: NDArray[np.int64]
    constants: tuple[Array, ...]
    charges: tuple[Array, ...]
    neutral: tuple[Array, ...]

    @property
    def count(self) -> int:
        """Number of substances A."""
        return len(self.rows)

    @cached_property
    def further(self) -> tuple[_Level, ...]:
        """The levels after the first, of the substances that have them."""
        levels = []
        for j, constants in enumerate(self.constants[1:], start=2):
            some = np.flatnonzero(constants.any(axis=1))
            z = self.charges[j][some]
            levels.append(_Level(some, constants[some], self.neutral[j][some], z, z**2))
        return tuple(levels)

    def moments(self, h: Array, gains: Sequence[Array]) -> tuple[Array, Array, Array]:
        """Sums over the states of (weight with gain, z weight, z^2 weight), (A, N) each."""
        z = self.charges
        if not self.constants:
            nothing = np.zeros((self.count, len(h)))
            return nothing, nothing, nothing
        weight = self.constants[0] / h
        total, first, second = gains[1] * weight, z[1] * weight, z[1] ** 2 * weight
        total += gains[0]
        first += z[0]
        second += z[0] ** 2
        for at, gain in zip(self.further, gains[2:], strict=True):
            some = at.some
            weight[some] = there = weight[some] * (at.constants / h)
            total[some] += gain * there
            first[some] += at.charges * there
            second[some] += at.squares * there
        return total, first, second

    def gains(self, pulls: Array) -> list[Array]:
        """Weight of a state with what of it is outside the water: 1, or 1 + pull if neutral.

        The third state and later ones: only for the substances that have them (``further``).
        """
        every = [1.0 + neutral * pulls for neutral in self.neutral[:2]]
        return every + [1.0 + at.neutral * pulls[at.some] for at in self.further]

    def neutral_and_water(self, h: Array) -> tuple[Array, Array]:
        """Weight of the neutral form and of all forms in water, (A, N) each."""
        if not self.constants:
            nothing = np.zeros((self.count, len(h)))
            return nothing, nothing
        weight = self.constants[0] / h
        neutral, water = self.neutral[1] * weight, 1.0 + weight
        neutral += self.neutral[0]
        for at in self.further:
            some = at.some
            weight[some] = there = weight[some] * (at.constants / h)
            neutral[some] += at.neutral * there
            water[some] += there
        return neutral, water

    def at(self, index: int) -> Acids:
        """One of the substances alone."""
        one = slice(index, index + 1)
        return Acids(self.rows[one], tuple(k[one] for k in self.constants),
                     tuple(z[one] for z in self.charges), tuple(n[one] for n in self.neutral))


def gathered(acids: Sequence[Ionisable], count: int) -> Acids:
    """The substances as one record, for ``count`` draws."""
    levels = max((len(a.constants) for a in acids), default=0)
    nothing = np.zeros((0, count))

    def rows(values: list[Array]) -> Array:
        return np.stack(values) if values else nothing

    def column(values: list[float]) -> Array:
        return np.array(values, dtype=np.float64).reshape(-1, 1)

    constants = tuple(
        rows([a.constants[k] if k < len(a.constants) else np.zeros(count) for a in acids])
        for k in range(levels))
    charges = tuple(column([float(a.top - j) for a in acids]) for j in range(levels + 1))
    neutral = tuple(
        column([float(a.top == j and j <= len(a.constants)) for a in acids])
        for j in range(levels + 1))
    return Acids(np.array([a.row for a in acids], dtype=np.int64), constants, charges, neutral)


@dataclass(frozen=True)
class Limit:
    """A neutral form that is limited in the water.

    ``index`` among the acids, ``acid`` that one alone; ``concentration`` s [mol/L] and
    ``elsewhere`` e, dimensionless, (N,) each: dissolved in all is at most s (1/alpha_neutral + e)
    per litre of water.
    """

    index: int
    acid: Acids
    concentration: Array
    elsewhere: Array

    def most(self, h: Array) -> tuple[Array, Array]:
        """The most that is dissolved, mol per litre of water, and s over the neutral weight."""
        neutral, water = self.acid.neutral_and_water(h)
        per_weight = self.concentration / neutral[0]
        return per_weight * water[0] + self.concentration * self.elsewhere, per_weight


@dataclass(frozen=True)
class Balance:
    """ln [H+] of a water layer, and ``blur``, how far rounding leaves it open, (N,) each.

    Near an equivalence point nothing buffers, and the pH hangs on the last digits of the amounts.
    """

    ln_h: Array
    blur: Array


@dataclass(frozen=True)
class Besides:
    """What else takes charge out of the water: magnesium that may come out as its hydroxide, and
    K_ip [X-] Vorg/Vaq of fully protonated forms that leave as ion pairs, (A, N)."""

    gel: Gel | None = None
    pairs: Array | None = None


def balance_charge(
    acids: Acids,
    amounts: Array,
    pulls: Array,
    strong_mmol: Array,
    water_mL: Array,
    limits: Sequence[Limit] = (),
    guess: Array | None = None,
    besides: Besides | None = None,
) -> Balance:
    """ln [H+] that balances the charge of the water layer.

    Parameters
    ----------
    acids : substances with acid constants, A of them.
    amounts : their total amounts, both layers together [mmol], shape (A, N).
    pulls : K*Vorg/Vaq of each, shape (A, N).
    strong_mmol : net charge of the fully dissociated ions [mmol], shape (N,).
    water_mL : volume of the water layer [mL], shape (N,).
    limits : neutral forms that are limited in the water.
    guess : starting ln [H+].
    besides : a gel, ion pairs.

    Returns
    -------
    Balance, with [H+] in mol/L. Ideal activities: about 0.3 pH in 0.6 M salt.

    Raises
    ------
    NotConverged : after 120 steps, which bisection alone would not need, or for what is no number.

    0.1 mol/L of an acid of pKa 4.76, half of it neutralised, has pH 4.76:

    >>> acid = gathered([Ionisable(0, 0, np.array([[10.0**-4.76]]))], 1)
    >>> one = np.ones(1)
    >>> found = balance_charge(acid, 0.1 * one[None], 0.0 * one[None], 0.05 * one, one)
    >>> round(float(-found.ln_h[0] / np.log(10.0)), 2)
    4.76
    """
    count = len(water_mL)
    low, high = np.full(count, _X_LOW), np.full(count, _X_HIGH)
    x = np.full(count, X_NEUTRAL) if guess is None else np.clip(guess, _X_LOW, _X_HIGH)
    concentrations = amounts / water_mL
    strong = strong_mmol / water_mL
    gains = acids.gains(pulls)
    last_move = high - low
    gel, pairs = (None, None) if besides is None else (besides.gel, besides.pairs)
    enough = _LAST_STEP if limits or gel is not None else _LAST_NEWTON
    done = np.zeros(count, dtype=bool)
    for _ in range(_MAX_STEPS):
        value, slope, size = _balance(
            acids, gains, concentrations, strong, limits, x, pairs)
        if gel is not None:
            taken, rise = gel.taken_out(np.exp(x))
            value, slope, size = value - taken, slope + rise, size + taken
        np.copyto(low, x, where=value < 0)
        np.copyto(high, x, where=value > 0)
        newton = x - value / slope
        step = np.abs(newton - x)
        useful = (newton > low) & (newton < high) & (step <= _HALF * last_move)
        if bool(useful.all()):
            proposal, last_move, near = newton, step, step <= enough
        else:
            proposal = np.where(useful, newton, _HALF * (low + high))
            last_move = np.abs(proposal - x)
            near = last_move <= np.where(useful, enough, _LAST_STEP)
        balanced = (np.abs(value) <= _ROUNDING * size) | (step <= _LAST_STEP)
        np.copyto(x, proposal, where=~(done | balanced))
        done |= balanced | near
        if bool(done.all()):
            if bool(np.isnan(value).any()):
                raise NotConverged("pH: an amount or a volume is not a number")
            return Balance(x, _ROUNDING * size / slope)
    worst = float(np.max(high - low))
    raise NotConverged(f"pH: bracket still {worst:.2e} wide (in ln[H+]) after {_MAX_STEPS} steps")


def _balance(
    acids: Acids, gains: Sequence[Array], concentrations: Array, strong: Array,
    limits: Sequence[Limit], x: Array, pairs: Array | None = None,
) -> tuple[Array, Array, Array]:
    """Charge [mol/L] at ln [H+] = x, its slope, and the size of the terms it is made of.

    The strong ions are counted in all places, so a cation that left as a pair still counts.
    """
    h = np.exp(x)
    hydroxide = KW / h
    total, first, second = acids.moments(h, gains)
    if pairs is not None:
        z = acids.charges[0]
        total, first, second = total + pairs, first + z * pairs, second + z * z * pairs
    mean = first / total
    charge = concentrations * mean
    square = np.divide(second, total, out=second)
    rise = concentrations * square
    rise -= np.multiply(charge, mean, out=total)
    for limit in limits:
        i = limit.index
        most, per_weight = limit.most(h)
        held = most < concentrations[i]
        variance = square[i] - mean[i] * mean[i]
        charge[i] = np.where(held, most * mean[i], charge[i])
        rise[i] = np.where(held, most * variance + per_weight * first[i] * mean[i], rise[i])
    ends = h + hydroxide
    return (h - hydroxide + strong + over_rows(charge), ends + over_rows(rise),
            ends + np.abs(strong) + over_rows(np.abs(charge, out=charge)))


def shares_in_water(
    acids: Acids, x: Array, pulls: Array, pairs: Array | float = 0.0
) -> Array:
    """Share of each substance's dissolved amount that is in the water layer, (A, N).

    1/(1 + D Vorg/Vaq), D = K alpha_neutral; an acid at the pH of its pKa, K Vorg/Vaq = 8:

    >>> acid = gathered([Ionisable(0, 0, np.array([[1e-5]]))], 1)
    >>> share = shares_in_water(acid, np.log(np.array([1e-5])), np.array([[8.0]]))
    >>> round(float(share[0, 0]), 6)
    0.2
    """
    neutral, water = acids.neutral_and_water(np.exp(x))
    return np.asarray(water / (water + pulls * neutral + pairs))
