"""How much of a solution brings the water layer of an open flask to a pH.

At the stated pH every speciation is known, so the charge that is missing,

    V (h - Kw/h) + S + sum_i zbar_i n_i(water),

is found without solving for the pH; it changes steadily with the volume added. Volumes and
partition are those of the flask with the volume found before; repeated until the volume stands.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import Flags, Table, Vector, entry, inner
from .components import Inventory
from .constants import ATMOSPHERE_PA, KW
from .equilibrium import first_guess, settle, those_there
from .gel import most_dissolved
from .kinds import is_more_acid
from .layers import room_for_co2_Pa, set_partition, set_vapour_Pa
from .mixture import Acids, Constants, Mixture, in_draw, room_for
from .rounds import Around, Layers, pair_up, states_of
from .speciation import X_NEUTRAL, NotConverged, refuse_unbalanced
from .water import strong_in, volume_mL

Array = NDArray[np.float64]

MOST_ML = 2000.0
_BISECTIONS, _MOST_ROUNDS, _SAME_VOLUME = 64, 60, 1e-10
# From this round on a volume that swings from side to side is looked for in the middle.
_SWINGS_FROM = 12
_LEAST_ML, _LEAST_SHARE = 1e-9, 1e-300
_LN_10 = math.log(10.0)


class _Titrated(NamedTuple):
    """A water layer at a given pH while a solution runs in.

    ``water`` mL, ``strong`` charge and ``magnesium`` mmol at the start, the same per mL added,
    ``free`` [H+] - [OH-], and ``most_magnesium`` what of it stays dissolved, mol/L.

    Of each acid or base: ``amount`` at the start and ``per_mL`` added [mmol], ``charge`` in water
    per mol, ``outside`` mL of water that would hold what the organic layer holds of it, ``limit``
    of what is dissolved in the water [mol/L], ``elsewhere`` mmol that other places hold of it then,
    ``pairs`` mL likewise of what left as an ion pair and keeps its charge.
    """

    acids: Acids
    water: float
    strong: float
    magnesium: float
    water_per_mL: float
    strong_per_mL: float
    magnesium_per_mL: float
    free: float
    most_magnesium: float


@inner
def _missing(at: _Titrated, volume: float) -> float:
    """Charge [mmol] the water carries with a volume [mL] added; 0 where the pH is right."""
    water = max(at.water + at.water_per_mL * volume, _LEAST_ML)
    magnesium = at.magnesium + at.magnesium_per_mL * volume
    charge = water * at.free + at.strong + at.strong_per_mL * volume
    charge -= 2.0 * max(magnesium - at.most_magnesium * water, 0.0)
    for a in range(len(at.acids)):
        acid = at.acids[a]
        there = min(acid.amount + acid.per_mL * volume, acid.limit * water + acid.elsewhere)
        in_water = there * (water / (water + acid.outside))
        charge += (acid.charge + acid.pairs / water) * in_water
    return charge


@inner
def _volume_once(
    m: Mixture, dissolved: Vector, per_mL: Vector, volume: float, rest: Layers, target: float
) -> float:
    """The volume [mL] at which no charge is missing, with the layers of ``rest``."""
    at = _titrated(m, dissolved, per_mL, volume, rest, target)
    low, high = 0.0, MOST_ML
    side = np.sign(_missing(at, low))
    if np.sign(_missing(at, high)) == side:
        return MOST_ML
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        if np.sign(_missing(at, middle)) == side:
            low = middle
        else:
            high = middle
    return high


@inner
def _titrated(
    m: Mixture, dissolved: Vector, per_mL: Vector, volume: float, rest: Layers, target: float
) -> _Titrated:
    h = 10.0**-target
    solvent_mL = set_partition(m, rest.aqueous, rest.organic)
    organic_mL = volume_mL(rest.organic, m.components)
    water_mL, growth = volume_mL(rest.aqueous, m.components), volume_mL(per_mL, m.components)
    pair_up(m, rest, max(water_mL, _LEAST_ML))
    vapours = set_vapour_Pa(m, rest.aqueous, rest.organic)
    for a in range(len(m.acids)):
        acid = m.acids[a]
        i, component = acid.row, m.components[acid.row]
        water, neutral, first, _ = states_of(m, a, h)
        share, limit, room_mL = neutral / water, component.solubility, solvent_mL
        if i == m.co2:
            limit = m.co2_henry * room_for_co2_Pa(vapours) / ATMOSPHERE_PA
            room_mL = organic_mL
        acid.amount, acid.per_mL, acid.charge = dissolved[i], per_mL[i], first / water
        acid.pairs = acid.pairs / water * organic_mL
        acid.outside = share * component.K * organic_mL + acid.pairs
        acid.limit = limit / max(share, _LEAST_SHARE)
        acid.elsewhere = limit * component.K * room_mL if limit < math.inf else 0.0
    there = m.magnesium >= 0
    return _Titrated(
        m.acids, water_mL - growth * volume, strong_in(dissolved, m.components),
        dissolved[m.magnesium] if there else 0.0, growth, strong_in(per_mL, m.components),
        per_mL[m.magnesium] if there else 0.0, h - KW / h, most_dissolved(h, m.gel_product))


@inner
def _volume_in_draw(
    m: Mixture, dissolved: Vector, per_mL: Vector, target: float, down: bool
) -> tuple[float, float, float]:
    around, volume, moved = Around(True, 0.0, True), 0.0, 0.0
    now, ln_h = first_guess(m, dissolved), X_NEUTRAL
    found = Layers(dissolved.copy(), dissolved.copy())
    for number in range(_MOST_ROUNDS):
        ln_h, _, off, move = settle(m, dissolved + per_mL * volume, now, ln_h, around, found)
        if off > 0.0 or move > 0.0:
            return volume, off, move
        for i in range(len(dissolved)):
            now.aqueous[i], now.organic[i] = found.aqueous[i], found.organic[i]
        better = _volume_once(m, dissolved, per_mL, volume, found, target)
        if number == 0:
            pH = -ln_h / _LN_10
            short = pH > target if down else pH < target
            if not short or found.aqueous[m.water] <= 0.0:
                better = MOST_ML
        if number >= _SWINGS_FROM and moved * (better - volume) < 0.0:
            # It swings from side to side, as where the pH falls by dilution alone.
            better = 0.5 * (volume + better)
        moved = better - volume
        move, volume = abs(moved), better
        if move <= _SAME_VOLUME * volume or volume >= MOST_ML:
            return volume, 0.0, 0.0
    return volume, 0.0, 1.0


@entry
def _volumes_to_pH(
    c: Constants, dissolved: Table, per_mL: Table, target: Vector, down: Flags
) -> tuple[Array, Array, Array]:
    """In every draw: the volume; what is wrong with a charge balance and whether amounts or the
    volume still move, 0 where nothing is."""
    components, draws = dissolved.shape
    volumes, off, moves = np.zeros(draws), np.zeros(draws), np.zeros(draws)
    room, there = room_for(c), np.empty(components, np.bool_)
    for n in range(draws):
        for i in range(components):
            there[i] = dissolved[i, n] != 0.0 or per_mL[i, n] != 0.0 or i == c.water
        m = in_draw(c, room, there, n)
        volumes[n], off[n], moves[n] = _volume_in_draw(
            m, those_there(m, dissolved, n), those_there(m, per_mL, n), target[n], down[n])
    return volumes, off, moves


def volume_to_pH(inv: Inventory, dissolved: Array, per_mL: Array, target: Array) -> Array:
    """Volume [mL] of a solution that brings the water to a pH (N,), (N,); 2 L where none does or
    there is no water.

    ``dissolved`` [mmol] and ``per_mL`` [mmol/mL], (C, N). What is poured leads towards its own pH:
    a solution brings the flask to any pH between the two, be it an acid, a base or a salt such as
    hydrogensulfate, dihydrogenphosphate or ammonium.
    """
    volume, off, moves = _volumes_to_pH(
        inv.constants, np.ascontiguousarray(dissolved), np.ascontiguousarray(per_mL), target,
        is_more_acid(inv, per_mL, target))
    refuse_unbalanced(off)
    if bool(moves.any()):
        raise NotConverged(f"bringing to pH {target[0]:g}: the volume still moves after "
                           f"{_MOST_ROUNDS} rounds")
    return np.asarray(volume)
