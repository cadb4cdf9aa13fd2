"""Bringing a flask to a pH, what comes out as a solid, and collecting it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .contact import contact
from .facts import Facts
from .inventory import Inventory
from .materials import components_per_mL, poured
from .plan import Adjust, Collect
from .state import Flask, State

Array = NDArray[np.float64]

_BISECTIONS = 48
_MOST_ML = 2000.0
_ROOM_MELTING_C = 25.0


def precipitated(inv: Inventory, flask: Flask) -> Flask:
    """Solids come out of the water layer where their neutral form is above its solubility.

    Only substances that melt above 25 C and whose water solubility is tabulated.
    """
    volume = inv.volume_mL(flask.aqueous)
    pH = flask.pH
    if pH is None:
        return flask
    h = 10.0**-pH
    aqueous, solid = flask.aqueous.copy(), flask.solid.copy()
    acids = {a.row: a for a in inv.acids}
    for key, row in inv.index.items():
        substance = inv.tables.substances.get(key)
        if substance is None or key in inv.solvents:
            continue
        limit, melts = (substance.values.get(n) for n in ("water_solubility", "melting_point"))
        if limit is None or melts is None or melts.value < _ROOM_MELTING_C:
            continue
        neutral = acids[row].neutral_share(h) if row in acids else np.ones(inv.count)
        solubility = limit.value / substance.molar_mass * inv.draws.factor(
            f"solubility:{key}", limit.uncertainty / limit.value if limit.value else 0.0)
        dissolved_limit = solubility * volume / np.maximum(neutral, 1e-12)
        total = aqueous[row] + solid[row]
        dissolved = np.minimum(total, dissolved_limit)
        aqueous[row], solid[row] = dissolved, total - dissolved
    return replace(flask, aqueous=aqueous, solid=solid)


def adjust(inv: Inventory, state: State, step: Adjust) -> tuple[State, Facts]:
    """Add acid or base until the water layer has the stated pH; gas leaves, solids come out.

    The volume is found by bisection in every draw. If no volume up to 2 L reaches the pH, that
    much is not added: the step then changes nothing and says so.
    """
    flask = state.flasks[step.flask]
    per_mL = components_per_mL(inv, step.material)[:, None]
    dissolved = flask.aqueous + flask.droplets + flask.organic + _redissolving(inv, flask)
    volume = _volume_to_pH(inv, dissolved, per_mL, step.until_pH)
    reached = volume < _MOST_ML
    volume = np.where(reached, volume, 0.0)
    added = per_mL * volume
    state = state.with_input(added)
    touched = contact(inv, dissolved + added)
    state = state.with_air(touched.escaped)
    split = touched.split
    stirred = replace(flask, organic=split.organic, droplets=inv.none(), aqueous=split.aqueous,
                      solid=flask.solid - _redissolving(inv, flask), pH=split.pH)
    stirred = precipitated(inv, stirred)
    problems = () if bool(reached[0]) else ("pH not reached",)
    return state.with_flask(step.flask, stirred), Facts(
        gas_mmol=touched.gas_mmol, minutes=10.0, problems=problems)


def _redissolving(inv: Inventory, flask: Flask) -> Array:
    """Precipitate that may dissolve again when the pH changes (not drying agent)."""
    agents = list(inv.agent_rows.values())
    if any(np.any(flask.solid[r] > 0) for r in agents):
        return inv.none()
    return flask.solid


def _volume_to_pH(inv: Inventory, dissolved: Array, per_mL: Array, target: float) -> Array:
    start = contact(inv, dissolved).split.pH
    raising = start < target
    low, high = np.zeros(inv.count), np.full(inv.count, 1.0)

    def beyond(volume: Array) -> Array:
        pH = contact(inv, dissolved + per_mL * volume).split.pH
        return np.where(raising, pH >= target, pH <= target)

    for _ in range(12):
        far = beyond(high)
        if bool(far.all()):
            break
        high = np.where(far, high, np.minimum(high * 2.0, _MOST_ML))
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        past = beyond(middle)
        low, high = np.where(past, low, middle), np.where(past, middle, high)
    return high


def collect(inv: Inventory, state: State, step: Collect) -> tuple[State, Facts]:
    """Vacuum filtration: liquid through, solid with what it holds kept, washed and air-dried."""
    flask = state.flasks[step.flask]
    solid_g = inv.mass_g(flask.solid)
    liquid = flask.liquid()
    volume = inv.volume_mL(liquid)
    held_mL = inv.practice["moist_cake_mL_per_g"] * solid_g
    share = np.where(volume > 0, np.minimum(held_mL / np.where(volume > 0, volume, 1.0), 0.9), 0.0)
    held, through = liquid * share, liquid * (1.0 - share)
    solid = flask.solid
    if step.wash_with and step.washes:
        fresh = poured(inv, step.wash_with, step.wash_mL).total()
        for _ in range(step.washes):
            state = state.with_input(fresh)
            mixed = held + fresh
            stays = held_mL / np.maximum(held_mL + step.wash_mL, 1e-9)
            held, through = mixed * stays, through + mixed * (1.0 - stays)
    left = np.exp(-np.log(2.0) * step.air_dry_min / inv.practice["air_dry_half_life_min"])
    volatile = (inv.saturation_Pa(inv.room_C) > 0)[:, None]
    gone = np.where(volatile, held * (1.0 - left), 0.0)
    state = state.with_air(gone)
    cake = replace(flask, organic=inv.none(), droplets=inv.none(), aqueous=held - gone,
                   solid=solid, in_funnel=False)
    filtrate = replace(flask, organic=inv.none(), droplets=inv.none(), aqueous=through,
                       solid=inv.none(), in_funnel=False)
    state = state.with_flask(step.flask, replace(cake, aqueous=inv.none(), solid=inv.none()))
    state = state.pouring_into(step.into, cake)
    state = (state.with_waste("aqueous", through) if step.filtrate_in == "waste"
             else state.pouring_into(step.filtrate_in, filtrate))
    return state, Facts(minutes=10.0 + step.air_dry_min)
