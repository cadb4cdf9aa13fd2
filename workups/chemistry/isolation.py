"""Bringing a flask to a pH, what comes out as a solid, and collecting it.

A substance that melts above room temperature does not stay dissolved beyond its solubility: the
neutral form in the water layer is at most S (mol/L), in an organic layer at most K S, and what is
left over is solid.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from . import slow
from .at_once import turned_over_at_once
from .contact import contact
from .equilibrium import Surroundings, split_layers
from .facts import Facts
from .hydride import BOROHYDRIDE, WATER_PER_MOL
from .inventory import Inventory
from .kinds import is_more_acid
from .layers import partition_coefficients, water_capacity_mmol
from .limits import ICE_BATH_C
from .materials import components_per_mL, poured
from .plan import Adjust, Collect
from .state import Flask, State
from .sums import over_rows, share_of
from .titration import MOST_ML, volume_to_pH

Array = NDArray[np.float64]

ADJUSTED_MIN = 10.0
_SHORT_OF_MOST = 1.0
# Nearer to 7 a solution of its own pH is neither acid nor base.
_ACID_TO_PH, _BASE_FROM_PH = 6.5, 7.5
_FIRST_ML = 1.0
# Each halves what the first guess of K was off by.
_WASH_ROUNDS = 40
_OPEN = Surroundings(open_air=True, solids=True)


def adjust(inv: Inventory, state: State, step: Adjust) -> tuple[State, Facts]:
    """Add acid or base until the water layer has the stated pH; gas leaves, solids come out.

    If no volume up to 2 L reaches the pH, the step says so; somebody then pours until more does
    little: a unit short of the pH at 2 L. What drives the pH the wrong way is not poured. Where
    there is no water layer, as much is poured first as makes one.
    """
    flask = state.flasks[step.flask]
    per_mL = np.repeat(components_per_mL(inv, step.material)[:, None], inv.count, axis=1)
    held_back = agents_only(inv, flask.solid)
    state, dissolved, gas, escaped = _reacted(inv, state, flask.total() - held_back)
    first = _first_mL(inv, dissolved, per_mL)
    if bool(first.any()):
        state, dissolved, more, with_it = _reacted(
            inv, state.with_input(per_mL * first), dissolved + per_mL * first)
        gas, escaped = gas + more, escaped + with_it
    volume = volume_to_pH(inv, dissolved, per_mL, np.full(inv.count, step.until_pH))
    enough = _first_was_enough(inv, dissolved, per_mL, first, step.until_pH)
    volume = np.where(enough, 0.0, volume)
    reached = volume < MOST_ML
    if not bool(reached.all()):
        volume = np.where(reached, volume, _poured_in_vain(inv, dissolved, per_mL, step.until_pH))
    added = per_mL * volume
    state = state.with_input(added)
    rest = contact(inv, dissolved + added, solids=True)
    state = state.with_air(rest.escaped)
    state, split, turned = slow.stirred(inv, state, rest.split, ADJUSTED_MIN)
    stirred = replace(
        flask,
        organic=split.organic,
        droplets=inv.none(),
        aqueous=split.aqueous,
        solid=held_back + split.solid,
        pH=split.pH,
        celsius=ICE_BATH_C if step.is_on_ice else flask.celsius,
        in_funnel=False,
    )
    problems = () if bool(reached[0]) else ("pH not reached",)
    return state.with_flask(step.flask, stirred), Facts(
        gas_mmol=gas + rest.gas_mmol, escaped_mmol=escaped + over_rows(rest.escaped),
        minutes=ADJUSTED_MIN, problems=problems, reacted=turned
    )


def _reacted(inv: Inventory, state: State, mixture: Array) -> tuple[State, Array, Array, Array]:
    """A mixture with what reacts in it at once turned over and the reagent's gas gone; that gas
    [mmol], and with the vapours it took along, (N,)."""
    change = turned_over_at_once(inv, mixture)
    state, mixture = state.with_input(change), mixture + change
    if not np.any(mixture[inv.insoluble_gases] > 0):
        return state, mixture, np.zeros(inv.count), np.zeros(inv.count)
    touched = contact(inv, mixture, solids=True)
    escaped = touched.escaped
    return state.with_air(escaped), mixture - escaped, touched.gas_mmol, over_rows(escaped)


def _first_mL(inv: Inventory, dissolved: Array, per_mL: Array) -> Array:
    """What has to be poured [mL] before there is a water layer to bring to a pH, (N,).

    What the solvent dissolves and a hydride uses up, and 1 mL; 0 where there is a water layer.
    """
    water, each = dissolved[inv.water], per_mL[inv.water, 0]
    holds = water_capacity_mmol(inv, dissolved)
    if BOROHYDRIDE in inv.index:
        holds = holds + WATER_PER_MOL * dissolved[inv.index[BOROHYDRIDE]]
    if each <= 0 or bool(np.all(water > holds)):
        return np.zeros(inv.count)
    dry = split_layers(inv, dissolved, _OPEN).aqueous[inv.water] <= 0
    return np.where(dry, np.maximum(holds - water, 0.0) / each + _FIRST_ML, 0.0)


def _first_was_enough(
    inv: Inventory, dissolved: Array, per_mL: Array, first: Array, until_pH: float
) -> NDArray[np.bool_]:
    """Whether the first water layer that formed is already at the pH or beyond, (N,)."""
    if not bool(first.any()):
        return np.zeros(inv.count, dtype=bool)
    rest = split_layers(inv, dissolved, _OPEN)
    down = is_more_acid(inv, per_mL, until_pH)
    beyond = np.where(down, rest.pH <= until_pH, rest.pH >= until_pH)
    return np.asarray((first > 0) & (rest.aqueous[inv.water] > 0) & beyond)


def agents_only(inv: Inventory, solid: Array) -> Array:
    """Drying agent with what it holds does not dissolve again; precipitate does."""
    agents = list(inv.agent_rows.values())
    return solid if any(np.any(solid[r] > 0) for r in agents) else inv.none()


def _poured_in_vain(
    inv: Inventory, dissolved: Array, per_mL: Array, until_pH: float
) -> Array:
    """Volume [mL] that comes within a unit of the pH at 2 L, (N,); 0 if that leads away from the
    pH that is wanted, or if what is poured is neither acid nor base and only dilutes."""
    now = split_layers(inv, dissolved, _OPEN).pH
    most = split_layers(inv, dissolved + per_mL * MOST_ML, _OPEN).pH
    up, down = ~is_more_acid(inv, per_mL, _BASE_FROM_PH), is_more_acid(inv, per_mL, _ACID_TO_PH)
    towards = (up & (until_pH > now) & (most > now)) | (down & (until_pH < now) & (most < now))
    short = np.where(up, most - _SHORT_OF_MOST, most + _SHORT_OF_MOST)
    # Nothing is looked for in a draw in which nothing is poured.
    short = np.where(towards, short, now)
    volume = volume_to_pH(inv, dissolved, per_mL, short)
    return np.where(towards & (volume < MOST_ML), volume, 0.0)


def collect(inv: Inventory, state: State, step: Collect) -> tuple[State, Facts]:
    """Vacuum filtration: liquid through, solid with what it holds kept, washed and air-dried."""
    flask, nothing = state.flasks[step.flask], inv.none()
    held_mL = inv.practice["moist_cake_mL_per_g"] * inv.mass_g(flask.solid)
    share = np.minimum(share_of(held_mL, inv.volume_mL(flask.liquid())), 0.9)
    liquid = replace(flask, droplets=nothing, aqueous=flask.aqueous + flask.droplets,
                     solid=nothing, in_funnel=False)
    cake, through = replace(liquid.times(share), solid=flask.solid), liquid.times(1.0 - share)
    for _ in range(step.washes if step.wash_with else 0):
        fresh = poured(inv, step.wash_with, step.wash_mL)
        state = state.with_input(fresh.total())
        cake = _washed(inv, replace(cake, organic=cake.organic + fresh.organic,
                                    aqueous=cake.aqueous + fresh.aqueous))
        stays = held_mL / np.maximum(held_mL + step.wash_mL, 1e-9)
        through = replace(through, organic=through.organic + cake.organic * (1.0 - stays),
                          aqueous=through.aqueous + cake.aqueous * (1.0 - stays))
        cake = replace(cake, organic=cake.organic * stays, aqueous=cake.aqueous * stays)
    left = np.exp(-np.log(2.0) * step.air_dry_min / inv.practice["air_dry_half_life_min"])
    dries = np.where((inv.saturation_Pa(inv.room_C) > 0)[:, None], 1.0 - left, 0.0)
    state = state.with_air((cake.organic + cake.aqueous) * dries)
    cake = replace(cake, organic=cake.organic * (1.0 - dries),
                   aqueous=cake.aqueous * (1.0 - dries))
    state = state.with_flask(step.flask, replace(liquid, organic=nothing, aqueous=nothing))
    state = state.pouring_into(step.into, cake)
    state = (
        state.with_waste("aqueous", through.total())
        if step.filtrate_in == "waste"
        else state.pouring_into(step.filtrate_in, through)
    )
    return state, Facts(minutes=10.0 + step.air_dry_min)


def _washed(inv: Inventory, cake: Flask) -> Flask:
    """A wash on the filter dissolves solid up to its solubility in the liquid there, S in water and
    K S in a solvent, no more. K rises with what it has dissolved where acids pair up."""
    solvent = inv.extraction_solvents(cake.organic)
    water_mL, solvent_mL = inv.volume_mL(cake.aqueous), inv.volume_mL(solvent)
    if not bool((solvent_mL > 0).any()):
        return _dissolved(inv, cake, water_mL, np.zeros_like(solvent))
    washed = cake
    for _ in range(_WASH_ROUNDS):
        K = partition_coefficients(inv, washed.aqueous, washed.organic)
        washed = _dissolved(inv, cake, water_mL, K * solvent_mL)
    return washed


def _dissolved(inv: Inventory, cake: Flask, water_mL: Array, like_water_mL: Array) -> Flask:
    """A cake with its liquid saturated: ``like_water_mL`` mL of water that would hold as much as
    the solvent does, (C, N)."""
    organic, aqueous, solid = cake.organic.copy(), cake.aqueous.copy(), cake.solid.copy()
    for row in inv.precipitating:
        room_mL = water_mL + like_water_mL[row]
        room = np.maximum(inv.solubility[row] * room_mL - aqueous[row] - organic[row], 0.0)
        taken = np.minimum(room, solid[row])
        in_solvent = share_of(like_water_mL[row], room_mL)
        solid[row] -= taken
        organic[row] += taken * in_solvent
        aqueous[row] += taken * (1.0 - in_solvent)
    return replace(cake, organic=organic, aqueous=aqueous, solid=solid)
