"""Bringing a flask to a pH, what comes out as a solid, and collecting it.

A substance that melts above room temperature does not stay dissolved beyond its solubility: the
neutral form in the water layer is at most S (mol/L), in an organic layer at most K S, and what is
left over is solid.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from . import slow
from .at_once import turned_over_at_once
from .constants import ATMOSPHERE_PA, KW
from .contact import contact
from .equilibrium import Split, Surroundings, split_layers
from .facts import Facts
from .gel import most_dissolved
from .hydride import BOROHYDRIDE, WATER_PER_MOL
from .inventory import Inventory
from .kinds import is_more_acid
from .layers import co2_room_Pa, partition_coefficients
from .materials import components_per_mL, poured
from .plan import Adjust, Collect
from .rounds import of_acids, pair_coefficients
from .speciation import NotConverged
from .state import State
from .sums import over_rows
from .water import water_capacity_mmol

Array = NDArray[np.float64]

ADJUSTED_MIN = 10.0
_BISECTIONS = 64
_MOST_ML, _SHORT_OF_MOST = 2000.0, 1.0
_MOST_ROUNDS = 60
# Nearer to 7 a solution of its own pH is neither acid nor base.
_ACID_TO_PH, _BASE_FROM_PH = 6.5, 7.5
_SAME_VOLUME = 1e-10
_FIRST_ML = 1.0
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
    state, dissolved, gas = _reacted(inv, state, flask.total() - held_back)
    first = _first_mL(inv, dissolved, per_mL)
    if bool(first.any()):
        state, dissolved, more = _reacted(
            inv, state.with_input(per_mL * first), dissolved + per_mL * first)
        gas = gas + more
    volume = _volume_to_pH(inv, dissolved, per_mL, np.full(inv.count, step.until_pH))
    enough = _first_was_enough(inv, dissolved, per_mL, first, step.until_pH)
    volume = np.where(enough, 0.0, volume)
    reached = volume < _MOST_ML
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
        in_funnel=False,
    )
    problems = () if bool(reached[0]) else ("pH not reached",)
    return state.with_flask(step.flask, stirred), Facts(
        gas_mmol=gas + rest.gas_mmol, minutes=ADJUSTED_MIN, problems=problems, reacted=turned
    )


def _reacted(inv: Inventory, state: State, mixture: Array) -> tuple[State, Array, Array]:
    """A mixture with what reacts in it at once turned over and the reagent's gas gone; and that
    gas [mmol], (N,)."""
    change = turned_over_at_once(inv, mixture)
    state, mixture = state.with_input(change), mixture + change
    if not np.any(mixture[inv.insoluble_gases] > 0):
        return state, mixture, np.zeros(inv.count)
    touched = contact(inv, mixture, solids=True)
    return state.with_air(touched.escaped), mixture - touched.escaped, touched.gas_mmol


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
    most = split_layers(inv, dissolved + per_mL * _MOST_ML, _OPEN).pH
    up, down = ~is_more_acid(inv, per_mL, _BASE_FROM_PH), is_more_acid(inv, per_mL, _ACID_TO_PH)
    towards = (up & (until_pH > now) & (most > now)) | (down & (until_pH < now) & (most < now))
    short = np.where(up, most - _SHORT_OF_MOST, most + _SHORT_OF_MOST)
    volume = _volume_to_pH(inv, dissolved, per_mL, short)
    return np.where(towards & (volume < _MOST_ML), volume, 0.0)


def _volume_to_pH(inv: Inventory, dissolved: Array, per_mL: Array, target: Array) -> Array:
    """Volume [mL] of a solution that brings the water to a pH (N,), (N,); 2 L where none does or
    there is no water.

    At the stated pH every speciation is known, so the charge that is missing,
    V (h - Kw/h) + S + sum zbar n(water), is found without solving for the pH; it changes
    steadily with the volume added. What is poured leads towards its own pH: a solution brings the
    flask to any pH between the two, be it an acid, a base or a salt such as hydrogensulfate,
    dihydrogenphosphate or ammonium. Volumes and partition are those of the flask with the volume
    found before; repeated until the volume stands.
    """
    down = is_more_acid(inv, per_mL, target)
    volume = np.zeros(inv.count)
    standing = np.zeros(inv.count, dtype=bool)
    rest: Split | None = None
    for _ in range(_MOST_ROUNDS):
        rest = split_layers(inv, dissolved + per_mL * volume, _OPEN, rest)
        better = _volume_once(inv, dissolved, per_mL, volume, rest, target)
        if not bool(volume.any()):
            wanted = np.where(down, rest.pH > target, rest.pH < target)
            wanted &= rest.aqueous[inv.water] > 0
            better = np.where(wanted, better, _MOST_ML)
        move = np.abs(better - volume)
        volume = np.where(standing, volume, better)
        standing |= (move <= _SAME_VOLUME * volume) | (volume >= _MOST_ML)
        if bool(standing.all()):
            return volume
    raise NotConverged(f"bringing to pH {target[0]:g}: the volume still moves after "
                       f"{_MOST_ROUNDS} rounds")


def _volume_once(
    inv: Inventory, dissolved: Array, per_mL: Array, volume: Array, rest: Split, target: Array
) -> Array:
    """The volume [mL] at which no charge is missing, with the layers of ``rest``, (N,)."""
    titrated = _titrated(inv, dissolved, per_mL, volume, rest, target)
    low, high = np.zeros(inv.count), np.full(inv.count, _MOST_ML)
    side = np.sign(titrated.missing(low))
    never = np.sign(titrated.missing(high)) == side
    for _ in range(_BISECTIONS):
        middle = 0.5 * (low + high)
        before = np.sign(titrated.missing(middle)) == side
        low, high = np.where(before, middle, low), np.where(before, high, middle)
    return np.where(never, _MOST_ML, high)


@dataclass(frozen=True)
class _Titrated:
    """A water layer at a given pH while a solution runs in.

    Pairs (without, per mL added): ``water`` mL, ``strong`` charge mmol, ``amounts`` of the acids
    and bases mmol (A, N). ``charge`` of each in water per mol and ``neutral`` share; ``outside``
    mL of water that would hold what the organic layer holds of it; neutral forms are limited to
    ``limit`` mol/L, ``elsewhere`` mL of water counting beside; ``pairs`` mL likewise of what left
    as an ion pair and keeps its charge; ``magnesium`` mmol beyond what stays dissolved at this pH
    is solid. ``free`` is [H+] - [OH-], mol/L.
    """

    water: tuple[Array, Array]
    strong: tuple[Array, Array]
    amounts: tuple[Array, Array]
    charge: Array
    neutral: Array
    outside: Array
    limit: Array
    elsewhere: Array
    pairs: Array
    magnesium: tuple[Array | float, Array | float]
    gel_product: Array
    free: Array
    h: Array

    def missing(self, volume: Array) -> Array:
        """Charge [mmol] the water carries with a volume [mL] added; 0 where the pH is right."""
        water = np.maximum(self.water[0] + self.water[1] * volume, 1e-9)
        there = self.amounts[0] + self.amounts[1] * volume
        most = self.limit * (water / np.maximum(self.neutral, 1e-300) + self.elsewhere)
        in_water = np.minimum(there, most) * (water / (water + self.outside))
        strong = self.strong[0] + self.strong[1] * volume
        magnesium = self.magnesium[0] + self.magnesium[1] * volume
        gel = np.maximum(magnesium - most_dissolved(self.h, self.gel_product) * water, 0.0)
        strong = strong - 2.0 * gel
        charge = self.charge + self.pairs / water
        return water * self.free + strong + over_rows(charge * in_water)


def _titrated(
    inv: Inventory, dissolved: Array, per_mL: Array, volume: Array, rest: Split, target: Array
) -> _Titrated:
    acids = inv.acid_set
    h = 10.0**-target
    neutral, whole = acids.neutral_and_water(h)
    _, first, _ = acids.moments(h, acids.gains(np.zeros_like(whole)))
    share = neutral / whole
    K = partition_coefficients(inv, rest.aqueous, rest.organic)[acids.rows]
    rows = inv.solvent_rows
    solvent_mL = over_rows(rest.organic[rows] * inv.molar_volume[rows][:, None])
    organic_mL = inv.volume_mL(rest.organic)
    limit, elsewhere = inv.solubility[acids.rows], K * solvent_mL
    if inv.co2 is not None:
        gas = np.flatnonzero(acids.rows == inv.co2)
        room = co2_room_Pa(inv, rest.aqueous, rest.organic)
        limit[gas] = inv.co2_henry * room / ATMOSPHERE_PA
        elsewhere[gas] = K[gas] * organic_mL
    growth = inv.volume_mL(per_mL)
    pairs = np.zeros_like(share)
    if inv.ion_pairs:
        water_mL = np.maximum(inv.volume_mL(rest.aqueous), 1e-9)
        pairs = of_acids(inv, pair_coefficients(inv, rest, water_mL)) / whole * organic_mL
    return _Titrated(
        water=(inv.volume_mL(rest.aqueous) - growth * volume, growth),
        strong=(inv.strong_mmol(dissolved), inv.strong_mmol(per_mL)),
        amounts=(dissolved[acids.rows], per_mL[acids.rows]),
        charge=first / whole, neutral=share, outside=share * K * organic_mL + pairs,
        limit=limit, elsewhere=elsewhere, pairs=pairs, magnesium=_magnesium(inv, dissolved, per_mL),
        gel_product=inv.gel_product,
        free=h - KW / h, h=h)


def _magnesium(
    inv: Inventory, dissolved: Array, per_mL: Array
) -> tuple[Array | float, Array | float]:
    row = inv.magnesium
    return (0.0, 0.0) if row is None else (dissolved[row], per_mL[row])


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
    for row in inv.precipitating:
        room = np.maximum(inv.solubility[row] * volume - mixed[row], 0.0)
        taken = np.minimum(room, solid[row])
        mixed[row], solid[row] = mixed[row] + taken, solid[row] - taken
    return mixed, solid
