"""The drying step: agent into a flask, water out of the solvent."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .drying import (
    Staircase,
    agent_look,
    approach,
    clumps_from,
    dry_to_equilibrium,
    liquid_look,
    salt_for_loose,
    staircase,
)
from .facts import DryFacts, Facts
from .inventory import Inventory
from .layers import water_capacity_mmol
from .plan import Dry
from .state import Flask, State
from .substances import DryingAgent
from .sums import over_rows, share_of

Array = NDArray[np.float64]

MOST_AGENT_G = 200.0
LEAST_BOUND_MMOL = 1e-12
_WETTING_MIN = 0.5


def dry(inv: Inventory, state: State, step: Dry) -> tuple[State, Facts]:
    """Add a drying agent to a flask and leave it for a time."""
    flask = replace(state.flasks[step.flask], in_funnel=False)
    agent = inv.agents[step.agent]
    stairs = staircase(agent, inv.draws, inv.room_C)
    needed = needed_g(inv, flask, agent, stairs)
    row = inv.agent_rows[step.agent]
    there_g = flask.solid[row] * agent.molar_mass * 1e-3
    mass = _mass(inv, step, needed, np.maximum(MOST_AGENT_G - there_g, 0.0))
    added = inv.none()
    added[row] = mass / agent.molar_mass * 1e3
    state = state.with_input(added)
    flask = replace(flask, solid=flask.solid + added)
    dried, facts = _dried(inv, flask, agent, stairs, step, needed, mass)
    state = state.with_flask(step.flask, dried)
    return state, Facts(drying=facts, minutes=step.minutes + 1.0,
                        looks=(facts.agent_look, facts.liquid_look))


def needed_g(inv: Inventory, flask: Flask, agent: DryingAgent, stairs: Staircase) -> Array:
    """Agent for the free-flowing endpoint [g], (N,): what holds the load, and a loose rest.

    Water that the agent merely wets counts against its wetting capacity first. Agent that is
    there shares the water with what comes to it, so that a portion first and the rest later is the
    same as all at once.
    """
    capacity = water_capacity_mmol(inv, flask.organic)
    free = flask.droplets + flask.aqueous
    there = flask.solid[inv.agent_rows[agent.key]]
    held = np.where(there > 0, flask.solid[inv.water], 0.0)
    water = flask.organic[inv.water] + free[inv.water] + held
    salt = salt_for_loose(water, capacity, stairs, clumps_from(agent, inv.draws))
    by_hydrate = np.maximum(salt - there, 0.0) * agent.molar_mass * 1e-3
    by_wetting = inv.volume_mL(free) / max(agent.wetting.value, 1e-6)
    powder = agent.form == "powder"
    most = by_hydrate if powder else np.maximum(by_hydrate, by_wetting)
    return np.asarray(most + inv.practice["loose_g"])


def _mass(inv: Inventory, step: Dry, needed: Array, room_g: Array) -> Array:
    """What goes in: the weighed amount, or whole portions up to the one that stays loose; nobody
    puts more than MOST_AGENT_G of one agent to one flask, in however many steps."""
    if step.endpoint == "weighed":
        return np.full(inv.count, step.mass_g)
    return np.minimum(np.ceil(needed / step.mass_g) * step.mass_g, room_g)


def _dried(
    inv: Inventory, flask: Flask, agent: DryingAgent, stairs: Staircase, step: Dry,
    needed: Array, mass: Array,
) -> tuple[Flask, DryFacts]:
    water = inv.water
    row = inv.agent_rows[agent.key]
    capacity = water_capacity_mmol(inv, flask.organic)
    free = flask.droplets + flask.aqueous
    salt = flask.solid[row] if step.agent and inv.room_C <= agent.T_max_C else np.zeros(inv.count)
    start_bound = flask.solid[water]
    total = flask.organic[water] + free[water] + start_bound
    end = dry_to_equilibrium(stairs, salt, total, capacity)
    constant = float(agent.time_constant_min.value)
    dissolved = approach(flask.organic[water], end.dissolved, step.minutes, constant)
    bound = approach(start_bound, end.bound, step.minutes, constant)
    liquid = np.maximum(total - dissolved - bound, 0.0)
    kept = share_of(liquid, free[water])
    kept = np.minimum(kept, 1.0)
    surplus = liquid - kept * free[water]
    wetted = _wetting(inv, free * kept, agent, mass, step.minutes)
    stays = kept * (1.0 - wetted)
    solid = flask.solid + free * (1.0 - stays)
    solid[water] = bound + surplus + free[water] * kept * wetted
    organic = flask.organic.copy()
    organic[water] = dissolved
    binds = salt * approach(np.zeros(inv.count), inv.practice["agent_binds_mol_mol"],
                            step.minutes, constant)
    organic, solid, taken = _incompatible(inv, organic, solid, agent, binds)
    dried = replace(flask, organic=organic, solid=solid, droplets=flask.droplets * stays,
                    aqueous=flask.aqueous * stays)
    return dried, _facts(inv, flask, dried, agent, (needed, mass), capacity, taken, bound)


def _wetting(
    inv: Inventory, free: Array, agent: DryingAgent, mass: Array, minutes: float
) -> Array:
    """Share of the remaining free liquid that clings to the agent, (N,)."""
    volume = inv.volume_mL(free)
    room = agent.wetting.value * mass
    share = np.minimum(share_of(room, volume), 1.0)
    return approach(np.zeros(inv.count), share, minutes, _WETTING_MIN)


def _incompatible(
    inv: Inventory, organic: Array, solid: Array, agent: DryingAgent, binds: Array
) -> tuple[Array, Array, Mapping[str, Array]]:
    """An incompatible agent takes with it whatever is of a class it binds, product or not: alike
    of all of it, ``binds`` mmol together, (N,), or most of it, less what it has taken before: in
    two portions it takes what it takes in one. A teaching estimate."""
    rows = {key: row for key, row in inv.index.items() if _binds(inv, agent, key)}
    each = list(rows.values())
    there, taken = over_rows(organic[each]), over_rows(solid[each])
    most = np.minimum(inv.practice["agent_binds_most"], 1.0) * (there + taken)
    room = np.maximum(np.minimum(binds, most) - taken, 0.0)
    share = room / np.maximum(there, LEAST_BOUND_MMOL)
    moved = organic[each] * share
    organic, solid = organic.copy(), solid.copy()
    organic[each] -= moved
    solid[each] += moved
    return organic, solid, dict(zip(rows, moved, strict=True))


def _binds(inv: Inventory, agent: DryingAgent, key: str) -> bool:
    """Whether an agent binds a substance, by its class; solvents aside."""
    substance = inv.tables.substances.get(key)
    return substance is not None and key not in inv.solvents and bool(
        agent.incompatible & substance.classes)


def _facts(
    inv: Inventory, before: Flask, after: Flask, agent: DryingAgent, grams: tuple[Array, Array],
    capacity: Array, taken: Mapping[str, Array], bound: Array,
) -> DryFacts:
    needed, mass = grams
    free = after.droplets + after.aqueous
    salt = np.maximum(after.solid[inv.agent_rows[agent.key]], 1e-12)
    free_mL = inv.volume_mL(after.aqueous)
    drops = inv.volume_mL(after.droplets)
    organic_mL = inv.volume_mL(after.organic)
    ratio = bound / salt
    activity = np.where(capacity > 0, after.organic[inv.water] / np.maximum(capacity, 1e-12), 1.0)
    clump_from = float(clumps_from(agent, inv.draws)[0])
    loose = agent_look(float(ratio[0]), float(free_mL[0]), clump_from)
    if loose == "free-flowing" and float(mass[0]) < float(needed[0] - 0.8 * inv.practice[
            "loose_g"][0]):
        loose = "clumped"
    wrong = bool(inv.volume_mL(before.aqueous)[0] > inv.volume_mL(before.organic)[0])
    return DryFacts(
        agent=agent.key, mass_g=mass, needed_g=needed,
        water_before_mmol=before.organic[inv.water] + before.droplets[inv.water]
        + before.aqueous[inv.water],
        water_after_mmol=after.organic[inv.water] + free[inv.water],
        droplets_after_mL=drops, held_ratio=ratio, free_mL=free_mL, water_activity=activity,
        agent_look="puddle" if wrong else loose,
        liquid_look=liquid_look(float(drops[0]), float(organic_mL[0])),
        bound_product=taken, wrong_layer=wrong)
