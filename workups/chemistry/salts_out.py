"""Salts that an organic mixture does not dissolve: they are solid as long as no water is there.

    M+ + X- -> MX(s),    BH+ + X- -> BHX(s),    M+ + A- -> MA(s)

whole, in an organic liquid of extraction solvents: at room temperature ether, ethyl acetate,
toluene or hexane dissolve less than a gram per litre of sodium chloride or triethylammonium
chloride (from memory). First cation and anion of fully dissociated ions; what is left of the anions
takes bases along, the strongest first, what is left of the cations acids, the strongest first. In
halogenated solvents, which dissolve ammonium chlorides well (triethylammonium chloride in
dichloromethane, from memory), a salt of a base stays dissolved.

Not where there is free water, more than a tenth of a solvent that mixes with water, carbon dioxide,
or a hydride or an organometallic reagent that has not met water (magnesium halides dissolve in
ether). What has no partner, such as hydroxide or free acid, stays where it is.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from .hydride import BOROHYDRIDE
from .inventory import Inventory
from .layers import water_capacity_mmol
from .limits import LEAST_COSOLVENT
from .speciation import Ionisable
from .state import Flask
from .sums import over_rows, share_of

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Less solvent is no liquid for salts to come out of [mL]; share of halogenated ones that counts.
_LEAST_SOLVENT_ML, _HALOGENATED = 1.0, 0.5


def salts(inv: Inventory, flask: Flask) -> Array:
    """What comes out of the organic liquid of a flask as salts [mmol], (C, N); 0 where none."""
    out = inv.none()
    positive, negative = _ions(inv, flask.organic, 1.0), _ions(inv, flask.organic, -1.0)
    if not (positive.any() or negative.any()):
        return out
    dry = _without_water(inv, flask)
    if not bool(dry.any()):
        return out
    pairs = np.where(dry, np.minimum(positive, negative), 0.0)
    bases = np.where(dry & ~_halogenated(inv, flask.organic), negative - pairs, 0.0)
    with_bases = _taken(out, flask.organic, bases, _by_strength(inv, base=True))
    acids = np.where(dry, positive - pairs, 0.0)
    with_acids = _taken(out, flask.organic, acids, _by_strength(inv, base=False))
    kept_positive = share_of(pairs + with_acids, positive)
    kept_negative = share_of(pairs + with_bases, negative)
    charge = inv.strong_charge[:, None]
    out += np.where(charge > 0, flask.organic * kept_positive, 0.0)
    return out + np.where(charge < 0, flask.organic * kept_negative, 0.0)


def _ions(inv: Inventory, amounts: Array, sign: float) -> Array:
    """Charge [mmol] of the fully dissociated ions of one sign, (N,)."""
    return over_rows(amounts * np.maximum(sign * inv.strong_charge, 0.0)[:, None])


def _by_strength(inv: Inventory, *, base: bool) -> list[Ionisable]:
    """Bases, the strongest first, or acids of one proton that carry no charge with it."""
    found = [a for a in inv.acids if (a.top == 1 if base else a.top == 0)]
    return sorted(found, key=lambda a: float(a.constants[0, 0]), reverse=not base)


def _taken(out: Array, there: Array, wanted: Array, partners: Iterable[Ionisable]) -> Array:
    """Partners put to ``out`` until as many are as are wanted; how many were found, (N,)."""
    found = np.zeros_like(wanted)
    for partner in partners:
        more = np.minimum(there[partner.row], wanted - found)
        out[partner.row] += more
        found = found + more
    return found


def _volume_mL(inv: Inventory, amounts: Array, rows: Iterable[int]) -> Array:
    rows = list(rows)
    return over_rows(amounts[rows] * inv.molar_volume[rows][:, None]) if rows else np.zeros(
        inv.count)


def _without_water(inv: Inventory, flask: Flask) -> Flags:
    """Whether what is liquid is an organic solvent in which no salt dissolves or reacts, (N,)."""
    water = inv.water
    free = flask.aqueous[water] + flask.droplets[water]
    dissolved = flask.organic[water] <= water_capacity_mmol(inv, flask.organic)
    solvent_mL = _volume_mL(inv, flask.organic, inv.solvent_rows.tolist())
    cosolvent_mL = _volume_mL(inv, flask.organic, inv.cosolvent_rows.tolist())
    unfit = [inv.index[k] for k in (BOROHYDRIDE,) if k in inv.index]
    unfit += [*inv.insoluble_gases.tolist(), *([] if inv.co2 is None else [inv.co2])]
    calm = ~np.any(flask.organic[unfit] > 0, axis=0) if unfit else np.ones(inv.count, bool)
    fit = solvent_mL > np.maximum(_LEAST_SOLVENT_ML, cosolvent_mL / LEAST_COSOLVENT)
    return np.asarray((free <= 0) & dissolved & fit & calm)


def _halogenated(inv: Inventory, organic: Array) -> Flags:
    rows = inv.solvent_rows.tolist()
    known = inv.tables.solvents
    with_halogen = [r for r in rows if known[inv.keys[r]].halogenated]
    mL = _volume_mL(inv, organic, with_halogen)
    return np.asarray(mL > _HALOGENATED * _volume_mL(inv, organic, rows))
