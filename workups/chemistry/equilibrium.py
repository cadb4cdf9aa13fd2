"""Two layers at equilibrium: who goes where, at which pH, what leaves the liquids.

For each substance i with total n_i and neutral-form partition coefficient K_i

    n_i(water) = n_i / (1 + D_i Vorg/Vaq),    D_i = K_i alpha_neutral,i(pH)

with the pH that balances the charge (see ``speciation``). Volumes, salting out, co-solvent and
the composition of the organic layer depend on the result; rounds (see ``rounds``) are repeated
until nothing moves by more than 1e-11 of its total. The limiting form for constant K and volumes is
the textbook q = (Vaq/(Vaq + K Vorg))^n exactly.

In an open flask CO2 stays only up to saturation c against the air, c (Vaq/alpha + K Vorg) in all.
A solid that may come out stays dissolved up to its solubility s, s (Vaq/alpha + K Vsolvent).

Each draw is computed by itself, from the components that are there in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import Table, Vector, entry, inner
from .components import Inventory
from .mixture import Constants, Mixture, in_draw, room_for
from .rounds import (
    HALF,
    LEAST_TOTAL_MMOL,
    NOTHING_MMOL,
    SMALLEST_LAYER_ML,
    Around,
    Layers,
    one_round,
)
from .speciation import X_NEUTRAL, NotConverged, refuse_unbalanced
from .water import volume_mL

Array = NDArray[np.float64]

_TOLERANCE, _BLURS = 1e-11, 4.0
# Rounds of each stage, and the share of a round that is gone along with.
_STAGES = ((16, 1.0), (48, 1.0), (136, 0.25), (400, 0.05), (400, 1.0))
_MOST_ROUNDS = 1000
# Next to where two layers become one the last rounds creep: what still moves by less is settled.
_CREEPS = 1e-7
_FARTHEST, _FARTHEST_LN_H, _LEAST_LEFT = 1e4, 2.0, 0.2
_JUST_A_LAYER, _PLAIN_ROUNDS = 1.0001, 4.0


@dataclass(frozen=True)
class Split:
    """A flask at equilibrium: amounts (C, N) [mmol] by layer, ln [H+] (N,).

    ``solid`` is what came out; ``released`` the CO2 that the air took, ``headspace_mmol`` the CO2
    in a closed headspace, (N,) each.
    """

    aqueous: Array
    organic: Array
    solid: Array
    ln_h: Array
    headspace_mmol: Array
    released: Array

    @property
    def pH(self) -> Array:
        """pH of the water layer, ideal activities, (N,)."""
        return np.asarray(-self.ln_h / np.log(10.0))


@dataclass(frozen=True)
class Surroundings:
    """What a flask's contents may leave the liquids for: open air, a headspace [mL], solids."""

    open_air: bool = False
    headspace_mL: Array | None = None
    solids: bool = False


SHUT = Surroundings()


class Start(NamedTuple):
    """Layers to begin the search from, amounts (C, N) [mmol] and ln [H+] (N,), if any are known."""

    known: bool
    aqueous: Table
    organic: Table
    ln_h: Vector


@inner
def those_there(m: Mixture, every: Table, n: int) -> Vector:
    """Amounts of the components that are there in a draw."""
    found = np.empty(len(m.components))
    for i in range(len(found)):
        found[i] = every[m.components[i].row, n]
    return found


@inner
def first_guess(m: Mixture, totals: Vector) -> Layers:
    """Solvents, and what all of them draw out of water, in the organic layer."""
    organic = np.zeros(len(totals))
    for i in range(len(totals)):
        if m.log10_K[:, i].min() > 0.0:
            organic[i] = totals[i]
    for s in range(len(m.solvents)):
        organic[m.solvents[s].row] = totals[m.solvents[s].row]
    return Layers(totals - organic, organic)


@inner
def settle(
    m: Mixture, totals: Vector, now: Layers, ln_h: float, around: Around, new: Layers
) -> tuple[float, float, float, float]:
    """Repeat rounds until nothing moves: ``new`` layers, ln [H+] and CO2 in the headspace; what is
    wrong with the charge balance and by how much amounts still move, 0 where nothing is.

    Where rounds swing beyond their aim, the later stages go only part of the way each time.
    """
    last = Layers(now.aqueous.copy(), now.organic.copy())
    step, last_step = np.empty(len(totals)), np.empty(len(totals))
    last_ln_h, move, headspace = ln_h, 0.0, 0.0
    for rounds, part in _STAGES:
        plain, best = 0.0, math.inf
        for number in range(rounds):
            new_ln_h, blur, headspace, off = one_round(m, totals, now, ln_h, around, new)
            if off > 0.0:
                return new_ln_h, headspace, off, 0.0
            move = _moved(totals, now, new, step)
            if move <= _TOLERANCE + _BLURS * blur:
                return new_ln_h, headspace, 0.0, 0.0
            # A leap that made things worse is followed by some plain rounds.
            plain = _PLAIN_ROUNDS if move > best else plain - 1.0
            best = min(best, move)
            theta = 0.0
            if number < rounds - 1:
                new_ln_h = _part_of_the_way(now, ln_h, new, new_ln_h, step, part)
                if number > 0:
                    theta = _leap(m, new, step, last, last_step, plain <= 0.0)
            for i in range(len(totals)):
                now.aqueous[i] = _leapt(new.aqueous[i], last.aqueous[i], theta)
                now.organic[i] = _leapt(new.organic[i], last.organic[i], theta)
                last.aqueous[i], last.organic[i] = new.aqueous[i], new.organic[i]
                last_step[i] = step[i]
            ahead = theta * (new_ln_h - last_ln_h)
            ln_h = new_ln_h - min(max(ahead, -_FARTHEST_LN_H), _FARTHEST_LN_H)
            last_ln_h = new_ln_h
    return last_ln_h, headspace, 0.0, 0.0 if move <= _CREEPS else move


@inner
def _moved(totals: Vector, now: Layers, new: Layers, step: Vector) -> float:
    """By how much a round moved what is in a layer at most, of its total; ``step`` that of the
    water layer (C,)."""
    move = 0.0
    for i in range(len(totals)):
        scale = max(totals[i], LEAST_TOTAL_MMOL)
        step[i] = (new.aqueous[i] - now.aqueous[i]) / scale
        other = (new.organic[i] - now.organic[i]) / scale
        if math.isnan(step[i] + other):
            return math.inf
        move = max(move, abs(step[i]), abs(other))
    return move


@inner
def _part_of_the_way(
    now: Layers, ln_h: float, new: Layers, new_ln_h: float, step: Vector, part: float
) -> float:
    """Go only a part of a round's way: new ln [H+]."""
    if part == 1.0:
        return new_ln_h
    for i in range(len(step)):
        new.aqueous[i] = now.aqueous[i] + part * (new.aqueous[i] - now.aqueous[i])
        new.organic[i] = now.organic[i] + part * (new.organic[i] - now.organic[i])
        step[i] *= part
    return ln_h + part * (new_ln_h - ln_h)


@inner
def _leap(
    m: Mixture, new: Layers, step: Vector, last: Layers, last_step: Vector, may_leap: bool
) -> float:
    """How far to leap along the direction in which the rounds move, in steps of this round and
    negative (Anderson's mixing with one memory).

    If each round moves by r times the last, the rest of the series is r/(1 - r) times the last
    step: near the point where an organic layer just dissolves r comes close to 1. A leap at most
    halves the organic layer and stops short of where it would be none; a plain round then tells.
    """
    along, square = 0.0, 0.0
    for i in range(len(step)):
        turn = step[i] - last_step[i]
        along, square = along + step[i] * turn, square + turn * turn
    theta = max(along / max(square, 1e-300), -_FARTHEST)
    # Above 1 the rounds grow: no leap back. From 0 to 1 they swing: the middle is always safe.
    if theta > 1.0 or (theta < 0.0 and not may_leap):
        return 0.0
    here = volume_mL(new.organic, m.components)
    before = volume_mL(last.organic, m.components)
    room = min(here - _JUST_A_LAYER * SMALLEST_LAYER_ML, HALF * here)
    shrinks = theta * (here - before)
    if shrinks <= room:
        return theta
    return theta * max(room, 0.0) / max(shrinks, 1e-300)


@inner
def _leapt(new: float, last: float, theta: float) -> float:
    """Where a leap of ``theta`` leads; it leaves a fifth of what there is."""
    return new if theta == 0.0 else max(new - theta * (new - last), _LEAST_LEFT * new)


@entry
def _settled_draws(
    c: Constants, totals: Table, open_air: bool, headspace_mL: Vector, solids: bool, start: Start,
) -> tuple[Array, ...]:
    """Every draw by itself: the parts of a ``Split``, then what is wrong with the charge balance
    and by how much amounts still move, 0 where nothing is."""
    components, draws = totals.shape
    in_water, in_solvent = np.zeros(totals.shape), np.zeros(totals.shape)
    solid, x = np.zeros(totals.shape), np.empty(draws)
    headspace, released = np.zeros(draws), np.zeros(draws)
    off, moves = np.zeros(draws), np.zeros(draws)
    room, there = room_for(c), np.empty(components, np.bool_)
    for n in range(draws):
        for i in range(components):
            there[i] = abs(totals[i, n]) > NOTHING_MMOL or i == c.water
        m = in_draw(c, room, there, n)
        total = those_there(m, totals, n)
        if start.known:
            now = Layers(those_there(m, start.aqueous, n), those_there(m, start.organic, n))
            guess = start.ln_h[n]
        else:
            now, guess = first_guess(m, total), X_NEUTRAL
        found = Layers(total.copy(), total.copy())
        x[n], headspace[n], off[n], moves[n] = settle(
            m, total, now, guess, Around(open_air, headspace_mL[n], solids), found)
        for i in range(len(total)):
            row = m.components[i].row
            in_water[row, n], in_solvent[row, n] = found.aqueous[i], found.organic[i]
            if i == m.co2:
                released[n] = total[i] - m.components[i].dissolved
            else:
                solid[row, n] = total[i] - m.components[i].dissolved
    return in_water, in_solvent, solid, x, headspace, released, off, moves


def split_layers(
    inv: Inventory, totals: Array, around: Surroundings = SHUT,
    start: Split | None = None,
) -> Split:
    """Equilibrium of everything in a flask between a water and an organic layer.

    Parameters
    ----------
    totals : amounts in the flask [mmol], (C, N).
    around : where substances may go besides the two layers.
    start : layers to begin the search from.

    Returns
    -------
    Split of all components.

    Raises
    ------
    NotConverged : the layers still moved by more than 1e-7 after 1000 rounds.
    """
    nothing = np.zeros(totals.shape[1])
    headspace_mL = nothing if around.headspace_mL is None else around.headspace_mL
    totals = np.ascontiguousarray(totals)
    begin = Start(False, totals, totals, nothing) if start is None else Start(
        True, start.aqueous, start.organic, start.ln_h)
    aqueous, organic, solid, ln_h, headspace, released, off, moves = _settled_draws(
        inv.constants, totals, around.open_air, headspace_mL, around.solids, begin)
    refuse_unbalanced(off)
    if bool((moves > 0.0).any()):
        raise NotConverged(f"two layers: amounts still move by {float(moves.max()):.1e} after "
                           f"{_MOST_ROUNDS} rounds")
    return Split(aqueous, organic, solid, ln_h, headspace, released)
