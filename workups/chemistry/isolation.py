"""Bringing a flask to a pH, what comes out as a solid, and collecting it.

A substance that melts above room temperature does not stay dissolved beyond its solubility: the
neutral form in the water layer is at most S (mol/L), in an organic layer at most K S, and what is
left over is solid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .contact import ATMOSPHERE_PA, Contact, co2_room_Pa, contact, effective_log_k
from .facts import Facts
from .inventory import NOT_EXTRACTED, Inventory
from .materials import components_per_mL, poured
from .plan import Adjust, Collect
from .speciation import KW, Ionisable
from .state import State

Array = NDArray[np.float64]

_BISECTIONS = 60
_MOST_ML = 2000.0
_SOLID_ABOVE_C = 25.0
_MOST_SETTLING = 60
_SETTLED = 1e-9


@dataclass(frozen=True)
class Precipitating:
    """A substance that can come out as a solid: its row and solubility as neutral form [mol/L]."""

    row: int
    solubility: Array


def precipitating(inv: Inventory) -> list[Precipitating]:
    """Substances with a melting point above 25 C and a tabulated solubility in water."""
    found = []
    for key, row in inv.index.items():
        substance = inv.tables.substances.get(key)
        if substance is None or key in inv.solvents or "inorganic" in substance.classes:
            continue
        limit, melts = (substance.values.get(n) for n in ("water_solubility", "melting_point"))
        if limit is None or melts is None or melts.value < _SOLID_ABOVE_C:
            continue
        relative = limit.uncertainty / limit.value if limit.value else 0.0
        drawn = inv.draws.factor(f"solubility:{key}", relative)
        found.append(Precipitating(row, limit.value / substance.molar_mass * drawn))
    return found


def _acid_at(inv: Inventory, row: int) -> Ionisable | None:
    return next((a for a in inv.acids if a.row == row), None)


def _neutral_share(inv: Inventory, row: int, h: Array) -> Array:
    acid = _acid_at(inv, row)
    return acid.neutral_share(h) if acid is not None else np.ones_like(h)


def settle_solids(inv: Inventory, totals: Array) -> tuple[Contact, Array]:
    """Let everything in a flask come to rest: layers, gas and solids.

    Alternates the equilibrium of the liquids with the solubility limits until no solid moves by
    more than 1e-9 of its total. Returns the contact of what is dissolved and the solid (C, N).
    """
    solid = inv.none()
    solids = [p for p in precipitating(inv) if np.any(totals[p.row] > 0)]
    rest = contact(inv, totals)
    for _ in range(_MOST_SETTLING):
        moved = 0.0
        new = solid.copy()
        for p in solids:
            new[p.row] = totals[p.row] - _dissolved(inv, rest, p, totals[p.row])
            change = np.abs(new[p.row] - solid[p.row]) / np.maximum(totals[p.row], 1e-12)
            moved = max(moved, float(change.max()))
        if moved <= _SETTLED:
            break
        solid = new
        rest = contact(inv, totals - solid)
    return rest, solid


def _dissolved(inv: Inventory, rest: Contact, p: Precipitating, total: Array) -> Array:
    """How much of a substance the liquids hold at most [mmol], (N,)."""
    split = rest.split
    water_mL = inv.volume_mL(split.aqueous)
    share = np.maximum(_neutral_share(inv, p.row, np.exp(split.ln_h)), 1e-300)
    in_water = p.solubility * water_mL / share
    log_k = effective_log_k(inv, split.aqueous, split.organic)[p.row]
    # Only the solvents count as organic layer here: the substance is not its own solvent.
    rows = inv.solvent_rows
    solvent_mL = (split.organic[rows] * inv.molar_volume[rows][:, None]).sum(axis=0)
    k = np.where(log_k > NOT_EXTRACTED / 2, 10.0**log_k, 0.0)
    return np.minimum(in_water + k * p.solubility * solvent_mL, total)


def adjust(inv: Inventory, state: State, step: Adjust) -> tuple[State, Facts]:
    """Add acid or base until the water layer has the stated pH; gas leaves, solids come out.

    If no volume up to 2 L reaches the pH, nothing is added and the step says so.
    """
    flask = state.flasks[step.flask]
    per_mL = components_per_mL(inv, step.material)[:, None]
    held_back = agents_only(inv, flask.solid)
    dissolved = flask.total() - held_back
    volume = _volume_to_pH(inv, dissolved, per_mL, step.until_pH)
    reached = volume < _MOST_ML
    added = per_mL * np.where(reached, volume, 0.0)
    state = state.with_input(added)
    rest, solid = settle_solids(inv, dissolved + added)
    state = state.with_air(rest.escaped)
    split = rest.split
    stirred = replace(
        flask,
        organic=split.organic,
        droplets=inv.none(),
        aqueous=split.aqueous,
        solid=held_back + solid,
        pH=split.pH,
        in_funnel=False,
    )
    problems = () if bool(reached[0]) else ("pH not reached",)
    return state.with_flask(step.flask, stirred), Facts(
        gas_mmol=rest.gas_mmol, minutes=10.0, problems=problems
    )


def agents_only(inv: Inventory, solid: Array) -> Array:
    """Drying agent with what it holds does not dissolve again; precipitate does."""
    agents = list(inv.agent_rows.values())
    return solid if any(np.any(solid[r] > 0) for r in agents) else inv.none()


def _volume_to_pH(inv: Inventory, dissolved: Array, per_mL: Array, target: float) -> Array:
    """Volume [mL] of a solution that brings the water to a pH, (N,).

    At the stated pH every speciation is known, so the charge that is missing,
    V (h - Kw/h) + S + sum zbar n(water), is found without solving for the pH; it changes
    steadily with the volume added. Reaches 2 L where no volume does it.
    """
    start = contact(inv, dissolved).split
    ratio = inv.volume_mL(start.organic) / np.maximum(inv.volume_mL(start.aqueous), 1e-9)
    log_k = effective_log_k(inv, start.aqueous, start.organic)
    pull = np.where(log_k > NOT_EXTRACTED / 2, 10.0**log_k, 0.0) * ratio
    room = co2_room_Pa(inv, start.aqueous, start.organic)
    h = np.full(inv.count, 10.0**-target)

    def missing(volume: Array) -> Array:
        return _missing_charge(inv, dissolved + per_mL * volume, pull, room, h)

    acidic = inv.strong_mmol(per_mL * np.ones(inv.count)) <= 0
    low, high = np.zeros(inv.count), np.full(inv.count, _MOST_ML)
    side = np.sign(missing(low))
    wanted = np.where(acidic, side > 0, side < 0)
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        before = np.sign(missing(middle)) == side
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    return np.where(
        wanted & (np.sign(missing(np.full(inv.count, _MOST_ML))) != side), high, _MOST_ML
    )


def _missing_charge(inv: Inventory, totals: Array, pull: Array, room: Array, h: Array) -> Array:
    """Charge [mmol] the water layer would carry at [H+] = h, (N,)."""
    volume = inv.volume_mL(totals)
    limits = {p.row: p.solubility for p in precipitating(inv)}
    charge = volume * (h - KW / h) + inv.strong_mmol(totals)
    for acid in inv.acids:
        weights = acid.weights(h)
        whole = np.asarray(sum(weights[1:], weights[0]))
        mean = np.asarray(sum((acid.top - j) * w for j, w in enumerate(weights))) / whole
        neutral = acid.neutral_share(h)
        amount = totals[acid.row] / (1.0 + pull[acid.row] * neutral)
        if acid.row == inv.co2:
            cap = inv.co2_henry * room / ATMOSPHERE_PA * volume
            amount = np.minimum(amount, cap / np.maximum(neutral, 1e-300))
        elif acid.row in limits:
            cap = limits[acid.row] * volume
            amount = np.minimum(amount, cap / np.maximum(neutral, 1e-300))
        charge = charge + mean * amount
    return charge


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
            mixed, solid = _washed(inv, held + fresh, solid)
            stays = held_mL / np.maximum(held_mL + step.wash_mL, 1e-9)
            held, through = mixed * stays, through + mixed * (1.0 - stays)
    left = np.exp(-np.log(2.0) * step.air_dry_min / inv.practice["air_dry_half_life_min"])
    volatile = (inv.saturation_Pa(inv.room_C) > 0)[:, None]
    gone = np.where(volatile, held * (1.0 - left), 0.0)
    state = state.with_air(gone)
    nothing = inv.none()
    bare = replace(
        flask, organic=nothing, droplets=nothing, aqueous=nothing, solid=nothing, in_funnel=False
    )
    state = state.with_flask(step.flask, bare)
    state = state.pouring_into(step.into, replace(bare, aqueous=held - gone, solid=solid))
    state = (
        state.with_waste("aqueous", through)
        if step.filtrate_in == "waste"
        else state.pouring_into(step.filtrate_in, replace(bare, aqueous=through))
    )
    return state, Facts(minutes=10.0 + step.air_dry_min)


def _washed(inv: Inventory, mixed: Array, solid: Array) -> tuple[Array, Array]:
    """A wash on the filter dissolves solid up to its solubility in the wash, no more."""
    mixed, solid = mixed.copy(), solid.copy()
    volume = inv.volume_mL(mixed)
    for p in precipitating(inv):
        room = np.maximum(p.solubility * volume - mixed[p.row], 0.0)
        taken = np.minimum(room, solid[p.row])
        mixed[p.row], solid[p.row] = mixed[p.row] + taken, solid[p.row] - taken
    return mixed, solid
