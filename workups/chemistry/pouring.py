"""Pouring: what clings to the glass, and what a rinse brings back.

A film of volume h stays behind when a vessel is poured out; after n rinses with r each the share
(h/(h + r))^n of it is still there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .inventory import Inventory
from .materials import components_per_mL
from .state import Flask, State, empty_flask
from .sums import share_of

Array = NDArray[np.float64]

_MOST_LEFT = 0.3


def rinse_law(film_mL: Array | float, rinse_mL: float, times: int) -> Array:
    """Share of a film still there after rinsing: (h/(h + r))^n, (N,) or scalar.

    >>> round(float(rinse_law(0.5, 2.0, 2)), 3)
    0.04
    """
    film = np.asarray(film_mL, dtype=np.float64)
    return np.asarray((film / (film + rinse_mL)) ** times)


def film_share(inv: Inventory, flask: Flask) -> Array:
    """Share of a flask's liquid that stays on the glass when it is poured out, (N,)."""
    volume = inv.volume_mL(flask.liquid())
    film = inv.practice["film_mL"]
    return np.minimum(share_of(film, volume), _MOST_LEFT)


def pour_out(inv: Inventory, state: State, name: str) -> tuple[State, Flask]:
    """Pour the liquid of a flask out; a film stays. The solid stays in the flask too."""
    flask = state.flasks[name]
    share = film_share(inv, flask)
    liquid = replace(flask, solid=inv.none(), in_funnel=False)
    left = replace(empty_flask(inv), solid=flask.solid, celsius=flask.celsius)
    state = state.with_film(name, liquid.total() * share).with_flask(name, left)
    return state, liquid.times(1.0 - share)


def pour_everything(inv: Inventory, state: State, name: str) -> tuple[State, Flask]:
    """Pour a flask out with its solid, leaving a film."""
    state, liquid = pour_out(inv, state, name)
    solid = state.flasks[name].solid
    return (state.with_flask(name, empty_flask(inv)), replace(liquid, solid=solid))


def rinsed_by(inv: Inventory, state: State, name: str, fresh: Flask) -> tuple[State, Flask]:
    """Half of a portion rinses the film out of an emptied vessel on its way."""
    film = state.films.get(name)
    if film is None:
        return state, fresh
    volume = np.maximum(inv.volume_mL(film), 1e-9)
    part_mL = 0.5 * float(inv.volume_mL(fresh.liquid())[0])
    brought = film * (1.0 - rinse_law(volume, part_mL, 1))
    state = replace(state, films={**state.films, name: film - brought})
    return state, replace(fresh, organic=fresh.organic + brought)


def rinsed(
    inv: Inventory, state: State, name: str, material: str, volume_mL: float, times: int
) -> tuple[State, Flask]:
    """Rinse the film out of a vessel; returns what the rinses bring along.

    The rinse liquid itself is taken to come out whole: a film of it stays that is pure rinse.
    """
    film = state.films.get(name, inv.none())
    if times <= 0 or volume_mL <= 0:
        return state, empty_flask(inv)
    volume = np.maximum(inv.volume_mL(film), 1e-9)
    left = rinse_law(volume, volume_mL, times)
    brought = film * (1.0 - left)
    fresh = np.repeat((components_per_mL(inv, material) * volume_mL * times)[:, None],
                      inv.count, axis=1)
    state = replace(state, films={**state.films, name: film * left}).with_input(fresh)
    organic = brought + fresh if material in inv.solvents else brought
    aqueous = inv.none() if material in inv.solvents else fresh
    return state, replace(empty_flask(inv), organic=organic, aqueous=aqueous)
