"""A drying agent in a flask: the staircase solved for the water activity, then contact time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from .bench import Bench, Vessel, mixed, share_of
from .constants import Amounts, Constants, by_key, classes, rows
from .equilibrium import water_held

MOST_AGENT_G = 200.0


@dataclass
class Agent:
    """A drying agent; ``steps`` are (water activity, mol water per mol it takes up there)."""

    key: str
    molar_mass: float
    powder: bool
    wetting: float
    cake: float
    minutes: float
    hottest_C: float
    clumps_from: float
    incompatible: set[str]
    steps: list[tuple[float, float]]
    dissolves_at: float


def agent(key: str, celsius: float) -> Agent:
    row = by_key("drying_agents", "agent")[key]
    steps: dict[tuple[float, float], list[tuple[float, float]]] = {}
    for step in rows("hydrate_steps"):
        if step["agent"] == key:
            top = math.inf if step["to_mol"] == "solution" else float(step["to_mol"])
            steps.setdefault((float(step["from_mol"]), top), []).append(
                (float(step["temperature_C"]), float(step["water_activity"])))
    found, dissolves, highest = [], 1.0, 0.0
    for (low, top), points in sorted(steps.items()):
        temperatures, activities = zip(*sorted(points), strict=True)
        activity = float(np.interp(celsius, temperatures, activities))
        if math.isinf(top):
            dissolves = activity
            continue
        highest = max(highest, min(activity, 0.99))
        found.append((highest, top - low))
    return Agent(
        key, float(row["molar_mass_g_mol"]), row["form"] == "powder",
        float(row["wetting_mL_per_g"]), float(row["cake_mL_per_g"]),
        float(row["time_constant_min"]), float(row["T_max_C"]),
        float(row["clump_from_mol_per_mol"]), set(row["incompatible"].split()), found, dissolves)


def at_equilibrium(a: Agent, salt: float, water: float, held: float) -> tuple[float, float]:
    """Water dissolved in the layer and bound by the salt [mmol], by a root in water activity.

    W = held a_w + salt x(a_w), x a staircase: the activity at which the right-hand side passes W,
    on a step if the jump there straddles W.
    """
    if salt <= 0:
        return min(water, held), 0.0
    bound = 0.0
    for activity, rise in a.steps:
        if held * activity + bound >= water:
            return water - bound, bound
        if held * activity + bound + salt * rise >= water:
            return held * activity, water - held * activity
        bound += salt * rise
    at = min(brentq(lambda x: held * x + bound - water, 0.0, 1e9), a.dissolves_at) if held else 0.0
    return held * at, bound


def needed_g(a: Agent, c: Constants, vessel: Vessel) -> float:
    """Agent for a loose endpoint [g]: what binds the water left over, and a loose rest."""
    free = mixed(vessel.drops, vessel.water)
    water = vessel.organic.get("water", 0.0) + free.get("water", 0.0)
    taken, at = 0.0, 0.0
    for activity, rise in a.steps:
        at, taken = activity, taken + rise
        if taken >= a.clumps_from - 1e-9:
            break
    over = max(water - water_held(c, vessel.organic) * at, 0.0)
    grams = over / max(a.clumps_from, 1e-6) * a.molar_mass / 1000.0
    if not a.powder:
        grams = max(grams, c.volume(free) / max(a.wetting, 1e-6))
    return grams + c.practice["loose_g"]


def toward(start: float, end: float, minutes: float, constant: float) -> float:
    return end + (start - end) * math.exp(-minutes / constant)


def dry(c: Constants, bench: Bench, step: object) -> None:
    """Put a drying agent in and leave it."""
    name, key, minutes = step.flask, step.agent, step.minutes  # type: ignore[attr-defined]
    weighed, mass = step.endpoint == "weighed", step.mass_g  # type: ignore[attr-defined]
    a, vessel = agent(key, c.setup.room_C), bench.vessels[name]
    if not weighed:
        mass = min(math.ceil(needed_g(a, c, vessel) / mass) * mass, MOST_AGENT_G)
    added = {f"agent:{key}": mass / a.molar_mass * 1000.0}
    bench.charge_with(added)
    vessel.solid = mixed(vessel.solid, added)
    working = vessel.solid[f"agent:{key}"] if c.setup.room_C <= a.hottest_C else 0.0
    bench.vessels[name] = dried(c, vessel, a, working, mass, minutes)


def dried(
    c: Constants, vessel: Vessel, a: Agent, working: float, mass_g: float, minutes: float
) -> Vessel:
    free = mixed(vessel.drops, vessel.water)
    in_layer, loose = vessel.organic.get("water", 0.0), free.get("water", 0.0)
    on_solid = vessel.solid.get("water", 0.0)
    total = in_layer + loose + on_solid
    end_layer, end_bound = at_equilibrium(a, working, total, water_held(c, vessel.organic))
    in_layer = toward(in_layer, end_layer, minutes, a.minutes)
    bound = toward(on_solid, end_bound, minutes, a.minutes)
    liquid = max(total - in_layer - bound, 0.0)
    kept = min(liquid / loose, 1.0) if loose > 0 else 0.0
    # Free liquid that stays clings to the agent as far as it wets it.
    volume = c.volume(share_of(free, kept))
    clings = min(a.wetting * mass_g / volume, 1.0) if volume > 0 else 0.0
    clings = toward(0.0, clings, minutes, 0.5)
    stays = kept * (1.0 - clings)
    solid = mixed(vessel.solid, share_of(free, 1.0 - stays))
    solid["water"] = total - in_layer - loose * stays
    organic = {**vessel.organic, "water": in_layer}
    binds = working * toward(0.0, c.practice["agent_binds_mol_mol"], minutes, a.minutes)
    organic, solid = incompatible(c, organic, solid, a, binds)
    return Vessel(organic, share_of(vessel.drops, stays), share_of(vessel.water, stays), solid,
                  vessel.pH, celsius=vessel.celsius)


def incompatible(
    c: Constants, organic: Amounts, solid: Amounts, a: Agent, binds: float
) -> tuple[Amounts, Amounts]:
    """What the agent has room for goes with it, as much as there is of each, up to the
    largest share that it binds of all there was before it took any."""
    kind = [k for k in organic
            if k not in c.solvents and classes(k) & a.incompatible and organic[k] > 0]
    before = sum(n for k, n in solid.items()
                 if k not in c.solvents and classes(k) & a.incompatible)
    whole, room = sum(organic[k] for k in kind), max(binds - before, 0.0)
    most = min(1.0, c.practice["agent_binds_most"])
    left = max(most * (whole + before) - before, 0.0)
    for key in kind:
        moved = min(room, left) * organic[key] / whole if whole else 0.0
        organic[key] -= moved
        solid[key] = solid.get(key, 0.0) + moved
    return organic, solid
