"""What stands in a flask, and which bottle on the bench would serve: questions of several rules."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.hydride import BOROHYDRIDE, MADE
from workups.chemistry.kinds import Contents
from workups.chemistry.plan import (
    WASTE,
    Add,
    Adjust,
    Collect,
    Dry,
    Plan,
    Quench,
    Step,
    Strip,
    Wash,
    Weigh,
)
from workups.chemistry.state import Flask, State

from ..case import Case

Array = NDArray[np.float64]

LEAST_NEAT_ML = 1.0
QUENCH_GASES = {"hydrogen": 1.0, "methane": 1.0, BOROHYDRIDE: MADE["hydrogen"]}


def mmol(case: Case, amounts: Array, *keys: str) -> Array:
    """Amount of some components [mmol], (N,); those the exercise does not know count as none."""
    rows = [case.inventory.index[k] for k in keys if k in case.inventory.index]
    return np.asarray(amounts[rows].sum(axis=0))


def everything_in(case: Case, state: State, name: str) -> Array:
    """All there is in a flask or in the waste [mmol], (C, N)."""
    if name == WASTE:
        return np.asarray(sum(state.waste.values(), case.inventory.none()))
    flask = state.flasks.get(name)
    return case.inventory.none() if flask is None else flask.total()


def layers_mL(case: Case, flask: Flask) -> tuple[float, float]:
    """Nominal volume of the organic and of the water layer of a flask [mL], droplets aside."""
    inv = case.inventory
    return float(inv.volume_mL(flask.organic)[0]), float(inv.volume_mL(flask.aqueous)[0])


def solvent_mL(case: Case, amounts: Array) -> float:
    """Nominal volume of the extraction solvents in a liquid [mL]."""
    inv = case.inventory
    rows = inv.solvent_rows
    return float((amounts[rows, 0] * inv.molar_volume[rows]).sum())


def cosolvent_mL(case: Case, amounts: Array) -> Array:
    """Volume of solvents that mix with water [mL], (N,)."""
    rows = case.inventory.cosolvent_rows
    return np.asarray((amounts[rows] * case.inventory.molar_volume[rows][:, None]).sum(axis=0))


def cosolvent_name(case: Case, amounts: Array) -> str:
    """The water-miscible solvent there is most of."""
    inv = case.inventory
    row = max(inv.cosolvent_rows.tolist(), key=lambda r: float(amounts[r, 0]))
    return inv.names[inv.keys[row]]


def quench_gas_mmol(case: Case, amounts: Array) -> Array:
    """Gas that a reactive reagent in a flask still has to give [mmol], (N,)."""
    return np.asarray(sum(n * mmol(case, amounts, key) for key, n in QUENCH_GASES.items()))


def oxidant_in(case: Case, state: State, name: str) -> float:
    """Hypochlorite in a flask that no reducing agent in it makes up for [mmol], nominal."""
    return Contents(case.inventory, everything_in(case, state, name)).oxidant_mmol


def on_bench(case: Case, fits: Callable[[str], bool]) -> list[str]:
    """The liquids of the exercise that fit, in the order of its list."""
    own = [m.key for m in case.exercise.setup.own_materials]
    liquids = [m for m in case.exercise.setup.materials if m not in case.inventory.agents]
    return [m for m in (*liquids, *own) if fits(m)]


def strongest_acid(case: Case) -> str | None:
    """The acid solution of the lowest pH on the bench."""
    return min(on_bench(case, case.is_acid), key=lambda m: case.bottle(m).pH, default=None)


def strongest_base(case: Case) -> str | None:
    """The base solution of the highest pH on the bench."""
    bases = on_bench(case, lambda m: case.bottle(m).is_base)
    return max(bases, key=lambda m: case.bottle(m).pH, default=None)


def takes_water_in(case: Case, step: Step) -> bool:
    """Whether a step pours something aqueous into an open flask."""
    return isinstance(step, Quench | Adjust) or (
        isinstance(step, Add) and case.is_aqueous(step.material)
    )


def last_strip(case: Case, flask: str) -> Strip | None:
    """The last stripping of what ends in a flask: there, or before it was poured over."""
    found = None
    for i, step, _ in case.of(Strip):
        onward = case.run.flow.after(i, step.flask)
        if step.flask == flask or any(flask in s.carries_on_in() for _, s in onward):
            found = step
    return found


def neat_weighings(case: Case) -> Iterator[tuple[int, Weigh]]:
    """The last weighings of liquid products from which nothing was ever boiled off and which are
    most of what they lie in: a workup without solvent ends there, not in a stripping."""
    collected = {s.into for s in case.plan.of(Collect)}
    for found in case.measures():
        weighings = [(i, s) for i, s, _ in case.of(Weigh) if s.flask == found.flask]
        if not weighings or found.flask in collected or (
                last_strip(case, found.flask) is not None):
            continue
        flask = case.before(weighings[-1][0]).flasks.get(found.flask)
        neat = float(found.solvent_g[0]) < float(found.product_g[0])
        if neat and flask is not None and layers_mL(case, flask)[0] >= LEAST_NEAT_ML:
            yield weighings[-1]


def dried_flasks(plan: Plan, before: int) -> frozenset[str]:
    """Flasks whose liquid has been over a drying agent and met no water layer since."""
    dried: set[str] = set()
    filled: set[str] = set()
    for step in plan.steps[:before]:
        if isinstance(step, Dry):
            dried.add(step.flask)
        elif step.layers():
            dried -= {*step.takes(), *step.fills()}
            filled.update(step.fills())
        elif step.pours():
            for into in step.carries_on_in():
                _pour(step.takes(), into, dried, filled)
    return frozenset(dried)


def _pour(sources: tuple[str, ...], into: str, dried: set[str], filled: set[str]) -> None:
    others = [s for s in sources if s != into]
    wet = any(s not in dried for s in others) or (into in filled and into not in dried)
    if wet:
        dried.discard(into)
    else:
        dried.add(into)
    filled.add(into)


def agent_for(case: Case, first: str = "magnesium_sulfate") -> str | None:
    """A drying agent of the exercise that is compatible with every target, if it can be the one
    asked for (magnesium sulfate is fast, sodium sulfate the most neutral)."""
    tables = case.inventory.tables
    classes = frozenset().union(*(tables.substances[t].classes for t in case.targets))
    agents = [a for a in case.inventory.agents.values() if not a.incompatible & classes]
    order = sorted(agents, key=lambda a: (a.key != first, a.key))
    return order[0].key if order else None


def wash_chains(case: Case) -> list[list[tuple[int, Wash]]]:
    """The washes of organic layers that hold product, by layer, in order."""
    chains: list[list[tuple[int, Wash]]] = []
    for i, step in case.product_washes():
        chain = next((c for c in chains if c[-1][1].keep_in == step.flask), None)
        if chain is None:
            chains.append([(i, step)])
        else:
            chain.append((i, step))
    return chains
