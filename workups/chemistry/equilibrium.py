"""Two layers at equilibrium: who goes where, at which pH, what leaves the liquids.

For each substance i with total n_i and neutral-form partition coefficient K_i

    n_i(water) = n_i / (1 + D_i Vorg/Vaq),    D_i = K_i alpha_neutral,i(pH)

with the pH that balances the charge (see ``speciation``). Volumes, salting out, co-solvent and
the composition of the organic layer depend on the result; an outer loop repeats until nothing
moves by more than 1e-11 of its total. The limiting form for constant K and volumes is the
textbook q = (Vaq/(Vaq + K Vorg))^n exactly.

In an open flask CO2 stays only up to saturation c against the air, c (Vaq/alpha + K Vorg) in all.
A solid that may come out stays dissolved up to its solubility s, s (Vaq/alpha + K Vsolvent).

Each draw stops on its own, so a draw does not depend on which others it is computed with.
"""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from .components import Inventory
from .rounds import (
    HALF,
    LEAST_TOTAL_MMOL,
    SHUT,
    SMALLEST_LAYER_ML,
    Split,
    Surroundings,
    one_round,
)
from .speciation import X_NEUTRAL, NotConverged
from .sums import over_rows

__all__ = ["Split", "Surroundings", "split_layers"]

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_TOLERANCE, _BLURS = 1e-11, 4.0
# Rounds of each stage, and the share of a round that is gone along with.
_STAGES = ((16, 1.0), (48, 1.0), (136, 0.25), (400, 0.05), (400, 1.0))
_FARTHEST, _FARTHEST_LN_H, _LEAST_LEFT = 1e4, 2.0, 0.2
_JUST_A_LAYER, _PLAIN_ROUNDS = 1.0001, 4.0


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
    NotConverged : the layers still moved by more than 1e-11 after 1000 rounds.
    """
    always = np.arange(len(totals)) == inv.water
    rows = np.flatnonzero(np.any(totals != 0.0, axis=1) | always)
    few = inv.only(rows)
    begin = _first_guess(few, totals[rows]) if start is None else _of_rows(start, rows)
    return _all_rows(inv, rows, _settled(few, totals[rows], around, begin))


def _of_rows(split: Split, rows: NDArray[np.int64]) -> Split:
    return replace(split, aqueous=split.aqueous[rows], organic=split.organic[rows],
                   solid=split.solid[rows])


def _all_rows(inv: Inventory, rows: NDArray[np.int64], split: Split) -> Split:
    def spread(few: Array) -> Array:
        every = inv.none()
        every[rows] = few
        return every

    return replace(split, aqueous=spread(split.aqueous), organic=spread(split.organic),
                   solid=spread(split.solid))


def _first_guess(inv: Inventory, totals: Array) -> Split:
    """Solvents, and what all of them draw out of water, in the organic layer."""
    organic = np.where((inv.log10_K > 0).all(axis=0), totals, 0.0)
    organic[inv.solvent_rows] = totals[inv.solvent_rows]
    nothing = np.zeros(inv.count)
    return Split(totals - organic, organic, inv.none(), np.full(inv.count, X_NEUTRAL), nothing,
                 nothing)


def _settled(inv: Inventory, totals: Array, around: Surroundings, start: Split) -> Split:
    """Repeat rounds until nothing moves, in each draw for itself.

    After each stage only the draws go on that still move; where rounds swing beyond their aim,
    the later stages go only part of the way each time.
    """
    found, moving, move = _stage(inv, totals, around, start, *_STAGES[0])
    for rounds, part in _STAGES[1:]:
        if not moving.size:
            return found
        now = _of_draws(found, moving)
        some = replace(around, headspace_mL=None if around.headspace_mL is None
                       else around.headspace_mL[moving])
        later, still, move = _stage(
            inv.of_draws(moving), np.take(totals, moving, axis=1), some, now, rounds, part)
        found = _with_draws(found, later, moving)
        moving = moving[still]
    if moving.size:
        raise NotConverged(f"two layers: amounts still move by {float(move.max()):.1e} after "
                           f"{sum(rounds for rounds, _ in _STAGES)} rounds")
    return found


def _stage(
    inv: Inventory, totals: Array, around: Surroundings, start: Split, rounds: int, part: float
) -> tuple[Split, NDArray[np.int64], Array]:
    """Some rounds: where they led, which draws still move, and by how much those."""
    scale = np.maximum(totals, LEAST_TOTAL_MMOL)
    found, now = None, start
    last: tuple[Split, Array] | None = None
    done = np.zeros(inv.count, dtype=bool)
    best = np.full(inv.count, np.inf)
    plain = np.zeros(inv.count)
    for _ in range(rounds):
        new, blur = one_round(inv, totals, now, around)
        step = (new.aqueous - now.aqueous) / scale
        move = np.maximum(np.abs(step).max(axis=0),
                          (np.abs(new.organic - now.organic) / scale).max(axis=0))
        found = new if found is None or not bool(done.any()) else _put(found, new, ~done)
        done = done | (move <= _TOLERANCE + _BLURS * blur)
        if bool(done.all()):
            return found, np.zeros(0, dtype=np.int64), move
        # A leap that made things worse is followed by some plain rounds.
        plain = np.where(move > best, _PLAIN_ROUNDS, plain - 1.0)
        best = np.minimum(best, move)
        if part < 1.0:
            new, step = _part_of_the_way(now, new, part), part * step
        now = new if last is None else _ahead(inv, new, step, *last, plain <= 0.0)
        last = new, step
    assert found is not None
    moving = np.flatnonzero(~done)
    return found, moving, move[moving]


def _of_draws(split: Split, draws: NDArray[np.int64]) -> Split:
    return Split(*(np.take(getattr(split, f.name), draws, axis=-1) for f in fields(Split)))


def _with_draws(split: Split, some: Split, draws: NDArray[np.int64]) -> Split:
    def put(every: Array, few: Array) -> Array:
        joined = every.copy()
        joined[..., draws] = few
        return joined

    return Split(*(put(getattr(split, f.name), getattr(some, f.name)) for f in fields(Split)))


def _put(found: Split, new: Split, where: Mask) -> Split:
    """The new layers in the draws that had not settled before."""
    def pick(one: Array, two: Array) -> Array:
        return np.where(where, two, one)

    return Split(*(pick(getattr(found, name), getattr(new, name))
                   for name in (f.name for f in fields(Split))))


def _part_of_the_way(now: Split, new: Split, part: float) -> Split:
    def between(one: Array, two: Array) -> Array:
        return one + part * (two - one)

    return replace(new, aqueous=between(now.aqueous, new.aqueous),
                   organic=between(now.organic, new.organic), ln_h=between(now.ln_h, new.ln_h))


def _ahead(
    inv: Inventory, new: Split, step: Array, last_new: Split, last_step: Array, may: Mask
) -> Split:
    """Leap along the direction in which the rounds move (Anderson's mixing with one memory).

    If each round moves by r times the last, the rest of the series is r/(1 - r) times the last
    step: near the point where an organic layer just dissolves r comes close to 1. A leap at most
    halves the organic layer and stops short of where it would be none; a plain round then tells.
    """
    turn = step - last_step
    theta = over_rows(step * turn) / np.maximum(over_rows(turn * turn), 1e-300)
    # Above 1 the rounds grow: no leap back. From 0 to 1 they swing: the middle is always safe.
    theta = np.where((theta > 1.0) | (~may & (theta < 0.0)), 0.0, np.maximum(theta, -_FARTHEST))
    here, before = inv.volume_mL(new.organic), inv.volume_mL(last_new.organic)
    room = np.minimum(here - _JUST_A_LAYER * SMALLEST_LAYER_ML, HALF * here)
    shrinks = theta * (here - before)
    theta = np.where(shrinks > room, theta * np.maximum(room, 0.0) / np.where(
        shrinks > room, np.maximum(shrinks, 1e-300), 1.0), theta)

    def leapt(one: Array, last: Array) -> Array:
        return np.asarray(np.maximum(one - theta * (one - last), _LEAST_LEFT * one))

    ahead = np.clip(theta * (new.ln_h - last_new.ln_h), -_FARTHEST_LN_H, _FARTHEST_LN_H)
    return replace(new, aqueous=leapt(new.aqueous, last_new.aqueous),
                   organic=leapt(new.organic, last_new.organic), ln_h=new.ln_h - ahead)
