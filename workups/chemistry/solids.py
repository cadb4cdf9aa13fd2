"""Solids after a step: what comes out of the water in a flask, and what goes back in.

Every step ends here (``steps.carry_out``): what it left in a flask has another composition or
temperature than before, so that a substance may be above its solubility or a solid below. Such a
flask is taken for stirred, and comes to equilibrium at its temperature (``equilibrium``). Left as
they are: a flask with drying agent in it, which holds its own; a moist solid, whose liquid is
saturated already; an organic layer by itself, in which S times K is too rough an estimate to let a
product crystallise by; two layers of which the water is not supersaturated. Salts come out of an
organic liquid (``salts_out``), and dissolve in the first water they meet.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .equilibrium import Split, Surroundings, split_layers
from .inventory import Inventory
from .salts_out import salts as salts_out
from .state import Flask, State

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Rounding apart, a saturated water layer is not above its solubility.
_ABOVE = 1.0 + 1e-6
# Water that counts as a layer [mL]; a solid swims in more than this many times what it soaks up.
_LEAST_WATER_ML, _SWIMS = 1.0, 2.0


def settled(inv: Inventory, before: State, after: State) -> State:
    """The bench after a step, solids out of or back in the liquids of every flask it changed."""
    for name, flask in after.flasks.items():
        if flask is not before.flasks.get(name):
            rested = at_rest(inv, flask)
            after = after if rested is flask else after.with_flask(name, rested)
    return after


def at_rest(inv: Inventory, flask: Flask) -> Flask:
    """A flask whose solids are at equilibrium with its liquids at its temperature; the same flask
    where nothing comes out or goes back."""
    if any(np.any(flask.solid[row] > 0) for row in inv.agent_rows.values()):
        return flask
    flask = _stirred(inv, flask)
    salts = salts_out(inv, flask)
    if not bool(salts.any()):
        return flask
    return replace(flask, organic=flask.organic - salts, solid=flask.solid + salts)


def _stirred(inv: Inventory, flask: Flask) -> Flask:
    """The flask with solids at equilibrium with its liquids, where any come out or go back."""
    inv = inv.at(flask.celsius)
    wet = _has_water(inv, flask)
    dissolves = wet & np.any(flask.solid[inv.strong_charge != 0.0] > 0, axis=0)
    solid = np.any(flask.solid[inv.precipitating] > 0, axis=0)
    moves = (solid & _swims(inv, flask)) | dissolves | (wet & _may_come_out(inv, flask))
    if not bool(moves.any()):
        return flask
    total = flask.total()
    start = None if flask.pH is None else Split(
        flask.aqueous + flask.droplets, flask.organic, flask.solid, -np.log(10.0) * flask.pH,
        np.zeros(inv.count), np.zeros(inv.count))
    split = split_layers(inv, total, Surroundings(solids=True), start)
    moves &= solid | dissolves | np.any(split.solid[inv.precipitating] > 0, axis=0)
    if not bool(moves.any()):
        return flask

    def either(moved: Array, was: Array) -> Array:
        return np.where(moves, moved, was)

    return replace(
        flask, organic=either(split.organic, flask.organic),
        droplets=either(np.zeros_like(total), flask.droplets),
        aqueous=either(split.aqueous, flask.aqueous), solid=either(split.solid, flask.solid),
        pH=None if flask.pH is None else either(split.pH, flask.pH))


def _swims(inv: Inventory, flask: Flask) -> Flags:
    """Whether a solid is in more water and solvent than it is moist with, (N,)."""
    soaks_up_mL = inv.practice["moist_cake_mL_per_g"] * inv.mass_g(flask.solid)
    solvents = inv.extraction_solvents(flask.organic)
    liquid_mL = inv.volume_mL(flask.aqueous + flask.droplets) + inv.volume_mL(solvents)
    return np.asarray(liquid_mL > _SWIMS * soaks_up_mL)


def _may_come_out(inv: Inventory, flask: Flask) -> Flags:
    """Whether the water would be supersaturated if all of an acid or base in it were neutral, (N,).

    Without an extraction solvent all that is liquid counts as water: whatever is poured into water
    and is no layer by itself mixes with it.
    """
    liquid = flask.aqueous
    if not np.any(flask.organic[inv.solvent_rows] > 0):
        liquid = flask.liquid()
    volume = inv.volume_mL(liquid)
    rows = inv.precipitating
    above = liquid[rows] > _ABOVE * inv.solubility[rows] * volume
    return np.asarray(above.any(axis=0))


def _has_water(inv: Inventory, flask: Flask) -> Flags:
    """Whether there is a water layer, (N,)."""
    there = flask.aqueous[inv.water] > 0
    return np.asarray(there & (inv.volume_mL(flask.aqueous) > _LEAST_WATER_ML))
