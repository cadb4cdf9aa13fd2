"""Drying agents as hydrate staircases.

A salt holds x(a_w) mol of water per mol, a step function of the water activity. In a flask with
an organic layer the total water W (dissolved, droplets, puddle) shares out as

    W = s V a_w + n_salt x(a_w) + free water,        s V: water the layer dissolves at a_w = 1

solved for a_w. On a step a_w stands at the step's value and the salt is partly converted; past
its last hydrate a salt dissolves in what is left over, at its solution's activity (a puddle).
Contact time enters as a first-order approach to this equilibrium.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .draws import Draws
from .substances import DryingAgent
from .sums import share_of

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Staircase:
    """A drying agent's steps with drawn water activities.

    ``activity`` (steps, N), rising; ``rise`` mol water per mol salt at each step;
    ``dissolves`` activity above which the salt goes into solution.
    """

    activity: Array
    rise: tuple[float, ...]
    dissolves: float

    @property
    def full(self) -> float:
        """Water held by the highest hydrate [mol/mol]."""
        return float(sum(self.rise))


@dataclass(frozen=True)
class DryState:
    """Where water is at equilibrium [mmol], each (N,); ``water_activity`` of the layer."""

    dissolved: Array
    bound: Array
    free: Array
    water_activity: Array


def staircase(agent: DryingAgent, draws: Draws, celsius: float) -> Staircase:
    """The staircase of an agent at a temperature, its steps drawn about their values.

    One deviate moves the whole staircase, so that its steps stay in order.
    """
    z = draws.normal(f"staircase:{agent.key}")
    steps = sorted(agent.steps, key=lambda s: s.from_mol)
    drawn = [np.minimum(s.water_activity(celsius) * 10.0 ** (s.uncertainty_log10 * z), 0.99)
             for s in steps]
    activity = np.maximum.accumulate(np.stack(drawn), axis=0)
    rise = tuple(s.to_mol - s.from_mol for s in steps)
    dissolves = agent.dissolving.water_activity(celsius) if agent.dissolving else 1.0
    return Staircase(activity, rise, dissolves)


def dry_to_equilibrium(
    stairs: Staircase, salt_mmol: Array, water_mmol: Array, capacity_mmol: Array
) -> DryState:
    """Share the water of a flask between solvent, salt and puddle.

    Parameters
    ----------
    salt_mmol : anhydrous salt, (N,). water_mmol : all water, (N,).
    capacity_mmol : water the organic layer dissolves at a_w = 1, (N,).

    Returns
    -------
    DryState; dissolved + bound + free equals ``water_mmol``.

    Enough of a salt whose only step is at 0.76 leaves the layer 76 % saturated:

    >>> sulfate = Staircase(np.array([[0.76]]), (10.0,), 0.93)
    >>> end = dry_to_equilibrium(sulfate, np.array([50.0]), np.array([100.0]), np.array([100.0]))
    >>> round(float(end.dissolved[0]), 6), round(float(end.bound[0]), 6), float(end.free[0])
    (76.0, 24.0, 0.0)
    """
    bound = np.zeros_like(water_mmol)
    activity = np.zeros_like(water_mmol)
    settled = np.zeros(water_mmol.shape, dtype=bool)
    for step, rise in enumerate(stairs.rise):
        at = stairs.activity[step]
        below = water_mmol - bound <= capacity_mmol * at
        now = below & ~settled
        activity = np.where(now, _activity(water_mmol - bound, capacity_mmol), activity)
        settled = settled | below
        room = rise * salt_mmol
        excess = water_mmol - bound - capacity_mmol * at
        partly = ~settled & (excess <= room)
        activity = np.where(partly, at, activity)
        bound = np.where(settled, bound, bound + np.minimum(np.maximum(excess, 0.0), room))
        settled = settled | partly
    top = np.where(salt_mmol > 0, stairs.dissolves, 1.0)
    rest = water_mmol - bound
    activity = np.where(settled, activity, np.minimum(_activity(rest, capacity_mmol), top))
    dissolved = np.minimum(capacity_mmol * activity, rest)
    return DryState(dissolved, bound, rest - dissolved, activity)


def _activity(water_mmol: Array, capacity_mmol: Array) -> Array:
    return share_of(water_mmol, capacity_mmol, np.where(water_mmol > 0, 1.0, 0.0))


def approach(start: Array, end: Array, minutes: float, constant_min: float) -> Array:
    """First-order approach from ``start`` to ``end`` in a time [min], constant in min.

    end + (start - end) exp(-t/tau)

    >>> round(float(approach(np.array([10.0]), np.array([0.0]), 5.0, 5.0)[0]), 2)
    3.68
    """
    return np.asarray(start + (end - start) * (1.0 - np.exp(-minutes / constant_min)))


def clumps_from(agent: DryingAgent, draws: Draws) -> Array:
    """Water from which the grains of an agent stick together [mol/mol], (N,); at most what its
    highest hydrate holds."""
    known = agent.clump_from
    full = max((s.to_mol for s in agent.steps), default=known.value)
    drawn = known.value * draws.factor(f"clump:{agent.key}", known.uncertainty / known.value)
    return np.minimum(drawn, full)


def salt_for_loose(
    water_mmol: Array, capacity_mmol: Array, stairs: Staircase, clump_from: Array
) -> Array:
    """Salt [mmol] at which an agent still flows: it holds ``clump_from`` mol water per mol, (N,).

    The water it must hold is what is left over at the activity of the step it then stands on.

    >>> kieserite = Staircase(np.array([[0.1]]), (1.0,), 0.9)
    >>> water, capacity = np.array([25.0]), np.array([50.0])
    >>> float(salt_for_loose(water, capacity, kieserite, np.array([1.0]))[0])
    20.0
    """
    held, at = np.zeros_like(water_mmol), np.zeros_like(water_mmol)
    for step, rise in enumerate(stairs.rise):
        at = np.where(held < clump_from - 1e-9, stairs.activity[step], at)
        held = held + rise
    left_over = np.maximum(water_mmol - capacity_mmol * at, 0.0)
    return np.asarray(left_over / clump_from)


LOOSE, CLUMPED, PUDDLE = "free-flowing", "clumped", "puddle"
CLEAR, CLOUDY = "clear", "cloudy"
CLOUDY_FROM_UL_ML = 0.7


def agent_look(held_mol_per_mol: float, free_mL: float, clump_from: float) -> str:
    """How the agent looks: from the water it holds and the free liquid around it [mL].

    >>> agent_look(1.5, 0.0, 2.0), agent_look(2.5, 0.0, 2.0), agent_look(2.5, 1.0, 2.0)
    ('free-flowing', 'clumped', 'puddle')
    """
    if free_mL > 0.1:
        return PUDDLE
    return CLUMPED if held_mol_per_mol > clump_from + 1e-6 else LOOSE


def liquid_look(droplets_mL: float, organic_mL: float) -> str:
    """Clear or cloudy: droplets of more than 0.7 uL per mL scatter light (common practice).

    >>> liquid_look(0.01, 50.0), liquid_look(0.25, 50.0)
    ('clear', 'cloudy')
    """
    if organic_mL <= 0:
        return CLEAR
    return CLOUDY if droplets_mL * 1e3 / organic_mL > CLOUDY_FROM_UL_ML else CLEAR
