"""Slow reactions in the water layer: teaching estimates, first order.

    dn/dt = -k [OH- or H+] n(water layer)

over the time of contact, pH and shares taken as they are. While two layers are shaken or stirred
the organic one gives what it holds; while they stand only the water layer reacts. Hydroxide is
used up mole for mole, and a reaction takes up no more water than there is. They are those that an
exercise states, and what is assumed of a product by its class (``Setup.reactions``), as far as
that turns over more than a hundred-thousandth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace

import numpy as np
from numpy.typing import NDArray

from .constants import KW
from .equilibrium import Split, Surroundings, split_layers
from .inventory import Inventory
from .setup import AssumedReaction
from .state import Flask, State
from .sums import share_of

Array = NDArray[np.float64]

SECONDS, LEAST_ASSUMED = 60.0, 1e-5
_NOTHING: Mapping[str, Array] = {}


def turned_over(
    inv: Inventory, aqueous: Array, organic: Array, pH: Array, minutes: Array | float
) -> tuple[Array, Mapping[str, Array]]:
    """What reacts [mmol]: change (C, N), and by substrate, (N,) each.

    ``aqueous`` and ``organic`` amounts [mmol] that are in contact (C, N), ``minutes`` of contact.
    """
    change = inv.none()
    turned: dict[str, Array] = {}
    h = 10.0**-pH
    for slow in inv.setup.reactions:
        row = inv.index[slow.substrate]
        strength = KW / h if slow.kind == "base" else h
        total = aqueous[row] + organic[row]
        share = share_of(aqueous[row], total)
        rate = slow.k_L_mol_s.value * inv.draws.factor(
            f"slow:{slow.substrate}:{slow.kind}",
            slow.k_L_mol_s.uncertainty / slow.k_L_mol_s.value)
        extent = total * -np.expm1(-rate * strength * share * minutes * SECONDS)
        for used, per_mol in slow.products.items():
            if per_mol < 0:
                left = (aqueous + organic + change)[inv.index[used]]
                extent = np.minimum(extent, np.maximum(left, 0.0) / -per_mol)
        if slow.kind == "base":
            extent = np.minimum(extent, strength * inv.volume_mL(aqueous))
        if isinstance(slow, AssumedReaction):
            extent = np.where(extent < LEAST_ASSUMED * total, 0.0, extent)
        change[row] -= extent
        for product, per_mol in slow.products.items():
            change[inv.index[product]] += per_mol * extent
        turned[slow.substrate] = turned.get(slow.substrate, np.zeros(inv.count)) + extent
    return change, turned


def happened(turned: Mapping[str, Array]) -> bool:
    """Whether anything reacted in any draw."""
    return any(bool(np.any(t > 0)) for t in turned.values())


def stirred(
    inv: Inventory, state: State, split: Split, minutes: float
) -> tuple[State, Split, Mapping[str, Array]]:
    """Layers that are stirred for a time after they came to equilibrium."""
    change, turned = turned_over(inv, split.aqueous, split.organic, split.pH, minutes)
    if not happened(turned):
        return state, split, turned
    return (state.with_input(change),
            settled_again(inv, split, change, turned, Surroundings(solids=True)), turned)


def settled_again(
    inv: Inventory, split: Split, change: Array, turned: Mapping[str, Array],
    around: Surroundings,
) -> Split:
    """The layers after what reacted in them, in the draws in which anything did."""
    everything = split.aqueous + split.organic + split.solid + change
    new, where = split_layers(inv, everything, around, start=split), _where(turned)
    return Split(*(
        np.where(where, getattr(new, f.name), getattr(split, f.name)) for f in fields(Split)))


def _where(turned: Mapping[str, Array]) -> NDArray[np.bool_]:
    """The draws in which anything reacted, (N,)."""
    return np.asarray(np.any([t > 0 for t in turned.values()], axis=0))


def standing(
    inv: Inventory, state: State, flask: Flask, minutes: float
) -> tuple[State, Flask, Mapping[str, Array]]:
    """A flask that stands: its water layer reacts by itself, at the pH it has when it begins."""
    if not inv.setup.reactions or flask.pH is None:
        return state, flask, _NOTHING
    change, turned = turned_over(inv, flask.aqueous, inv.none(), flask.pH, minutes)
    if not happened(turned):
        return state, flask, turned
    aqueous = flask.aqueous + change
    pH = np.where(_where(turned), split_layers(inv, aqueous).pH, flask.pH)
    return state.with_input(change), replace(flask, aqueous=aqueous, pH=pH), turned
