"""One round towards the equilibrium of two layers: new layers from the ones there are.

The layers as they are set the constants: volumes, partition coefficients, what is limited. With
them the pH balances the charge of the water layer (see ``speciation``), and every substance
shares itself out again. ``equilibrium`` repeats this.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .components import Inventory
from .constants import ATMOSPHERE_PA
from .gel import Gel, most_dissolved
from .layers import co2_room_Pa, molar_gas_volume_mL, partition_coefficients
from .speciation import Besides, Limit, balance_charge, shares_in_water
from .sums import over_rows
from .water import solvent_fractions, water_activity, water_capacity_mmol

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

SMALLEST_LAYER_ML, LEAST_LIQUID_ML = 0.02, 0.001
LEAST_TOTAL_MMOL = 1e-9
HALF = 0.5
_NEWTON_STEPS = 2
# In one round; at equilibrium no more leaves than there is.
_MOST_OF_ANION = 0.9


@dataclass(frozen=True)
class Split:
    """A flask at equilibrium: amounts (C, N) [mmol] by layer, ln [H+] (N,).

    ``solid`` is what came out; ``released`` the CO2 that the air took, ``headspace_mmol`` the CO2
    in a closed headspace, (N,) each.
    """

    aqueous: Array
    organic: Array
    solid: Array
    ln_h: Array
    headspace_mmol: Array
    released: Array

    @property
    def pH(self) -> Array:
        """pH of the water layer, ideal activities, (N,)."""
        return np.asarray(-self.ln_h / np.log(10.0))


@dataclass(frozen=True)
class Surroundings:
    """What a flask's contents may leave the liquids for: open air, a headspace [mL], solids."""

    open_air: bool = False
    headspace_mL: Array | None = None
    solids: bool = False


SHUT = Surroundings()


@dataclass(frozen=True)
class _Places:
    """Constants of one round: volumes [mL] (N,), K (C, N), and who is limited.

    ``only_water`` and ``only_organic`` mark draws with one layer; there ``water_mL`` is 1 if
    there is no water. ``gas_mL`` is the water that would hold as much neutral CO2 as the
    headspace does.
    """

    water_mL: Array
    organic_mL: Array
    solvent_mL: Array
    K: Array
    gas_mL: Array
    most_co2: Array | None
    only_water: Mask
    only_organic: Mask

    @property
    def pull(self) -> Array:
        """K Vorg/Vaq, (C, N)."""
        return self.K * (self.organic_mL / self.water_mL)


def pair_coefficients(inv: Inventory, now: Split, water_mL: Array) -> list[Array]:
    """K_ip [X-] of each ion pair in the layers as they are, dimensionless, (N,) each."""
    fractions = solvent_fractions(inv, now.organic)
    return [fractions[p.solvent] * p.K * now.aqueous[p.counter] / water_mL for p in inv.ion_pairs]


def of_acids(inv: Inventory, each: list[Array]) -> Array:
    """What belongs to ion pairs, gathered by acid or base, (A, N)."""
    rows = inv.acid_set.rows
    gathered = np.zeros((len(rows), inv.count))
    for pair, value in zip(inv.ion_pairs, each, strict=True):
        gathered[rows == pair.row] += value
    return gathered


def _places(inv: Inventory, totals: Array, now: Split, around: Surroundings) -> _Places:
    water_mL, organic_mL = inv.volume_mL(now.aqueous), inv.volume_mL(now.organic)
    only_water = (organic_mL < SMALLEST_LAYER_ML) | (
        _liquid_mL(inv, now.organic, organic_mL, around) < LEAST_LIQUID_ML)
    dissolves = totals[inv.water] <= water_capacity_mmol(inv, now.organic)
    only_organic = ~only_water & (dissolves | (water_mL <= 0))
    K = partition_coefficients(inv, now.aqueous, now.organic)
    one_layer = only_water | only_organic
    grown = _growth(inv, now, K, water_mL, organic_mL, ~one_layer)
    water_mL = water_mL + organic_mL * (1.0 - grown)
    organic_mL = organic_mL * grown
    rows = inv.solvent_rows
    solvent_mL = over_rows(now.organic[rows] * inv.molar_volume[rows][:, None]) * grown
    gas_mL = np.zeros(inv.count)
    if around.headspace_mL is not None:
        gas_mL = around.headspace_mL / (molar_gas_volume_mL(inv.room_C) * inv.co2_henry)
    most_co2 = None
    if around.open_air and inv.co2 is not None:
        room = co2_room_Pa(inv, now.aqueous, now.organic)
        most_co2 = inv.co2_henry * room / ATMOSPHERE_PA
    return _Places(
        np.where(only_organic | (water_mL <= 0), 1.0, water_mL),
        np.where(only_water, 0.0, organic_mL), np.where(only_water, 0.0, solvent_mL),
        K, gas_mL, most_co2, only_water, only_organic)


def _liquid_mL(inv: Inventory, organic: Array, organic_mL: Array, around: Surroundings) -> Array:
    """What makes an organic layer [mL], (N,): where solids may come out, no solid makes one by
    itself, nor the water dissolved in it; else a solid could settle as a layer or as a solid,
    whichever the search began with."""
    if not around.solids or not inv.precipitating.size:
        return organic_mL
    rows = np.append(inv.precipitating, inv.water)
    return np.asarray(organic_mL - over_rows(organic[rows] * inv.molar_volume[rows][:, None]))


def _growth(
    inv: Inventory, now: Split, K: Array, water_mL: Array, organic_mL: Array, two: Mask
) -> Array:
    """By what the volume of the organic layer must change for the present D_i to hold, (N,); 1
    where there are no ``two`` layers: what is left of a layer that has gone is no volume to divide
    by.

    With n_i and D_i given, the share b of the organic layer in the whole volume balances

        sum_i v_i n_i (D_i - 1) / (1 + b (D_i - 1))  =  0

    (as in a flash calculation; the contraction of the water counts as a component that stays in
    it). Newton steps from the present share; neither layer changes more
    than twofold at once.
    """
    acids = inv.acid_set
    neutral, whole = acids.neutral_and_water(np.exp(now.ln_h))
    D = K.copy()
    D[acids.rows] = K[acids.rows] * (neutral / whole)
    water, organic = np.where(two, water_mL, 1.0), np.where(two, organic_mL, 1.0)
    loss = np.zeros(inv.count)
    if inv.ion_pairs:
        D[acids.rows] += of_acids(inv, pair_coefficients(inv, now, water)) / whole
        for row in {p.counter for p in inv.ion_pairs}:
            there = np.maximum(now.aqueous[row], LEAST_TOTAL_MMOL)
            D[row] = (now.organic[row] / organic) / (there / water)
        loss = over_rows(now.organic * inv.molar_volume[:, None]) - organic_mL
    dissolved = np.maximum(now.aqueous[inv.water], LEAST_TOTAL_MMOL)
    D[inv.water] = (now.organic[inv.water] / organic) / (dissolved / water)
    pull = D - 1.0
    volumes = (now.aqueous + now.organic) * inv.molar_volume[:, None] * pull
    contraction = over_rows(now.aqueous * inv.molar_volume[:, None]) - water_mL
    start = organic / (water + organic)
    low, high = HALF * start, 1.0 - HALF * (1.0 - start)
    share = start
    for _ in range(_NEWTON_STEPS):
        spread = 1.0 / (1.0 + share * pull)
        terms = volumes * spread
        outside = 1.0 / (1.0 - share)
        shrunk = contraction * outside
        slope = over_rows(terms * spread * pull) - shrunk * outside - loss / share**2
        step = (over_rows(terms) + shrunk - loss / share) / np.where(slope > 0, slope, 1.0)
        share = np.clip(share + np.where(slope > 0, step, 0.0), low, high)
    return np.asarray(np.where(two, share / start, 1.0))


def one_round(
    inv: Inventory, totals: Array, now: Split, around: Surroundings
) -> tuple[Split, Array]:
    """One round: constants and volumes from the layers as they are, then new layers; and how far
    rounding leaves ln [H+] open."""
    at = _places(inv, totals, now, around)
    acids, pull = inv.acid_set, at.pull
    pulls = pull[acids.rows]
    if around.headspace_mL is not None:
        pulls = pulls + (acids.rows == inv.co2)[:, None] * (at.gas_mL / at.water_mL)
    limits = _limits(inv, at, around)
    gel = None if inv.magnesium is None else Gel(
        totals[inv.magnesium] / at.water_mL, inv.gel_product)
    each = [k * (at.organic_mL / at.water_mL)
            for k in pair_coefficients(inv, now, at.water_mL)] if inv.ion_pairs else []
    pairs = of_acids(inv, each) if each else None
    balance = balance_charge(acids, totals[acids.rows], pulls, inv.strong_mmol(totals),
                             at.water_mL, limits, now.ln_h, Besides(gel, pairs))
    ln_h = balance.ln_h
    dissolved = _dissolved(inv, totals, at, around, limits, ln_h)
    stays = 1.0 / (1.0 + pull)
    stays[acids.rows] = shares_in_water(acids, ln_h, pulls, 0.0 if pairs is None else pairs)
    aqueous = dissolved * stays
    organic = dissolved - aqueous
    if each:
        _take_counter_ions(inv, ln_h, each, aqueous, organic)
    headspace = np.zeros(inv.count)
    if inv.co2 is not None and around.headspace_mL is not None:
        headspace = organic[inv.co2] * _share_of_gas(inv, at)
        organic[inv.co2] -= headspace
    _place_water(inv, totals, now, aqueous, organic, at.only_water)
    if bool(at.only_organic.any()):
        aqueous, organic, dissolved, headspace = _without_water(
            inv, totals, at, around, (aqueous, organic, dissolved, headspace))
    out = totals - dissolved
    released = np.zeros(inv.count)
    if inv.co2 is not None:
        released = out[inv.co2].copy()
        out[inv.co2] = 0.0
    new = Split(aqueous, organic, out, ln_h, headspace, released)
    return new, balance.blur


def _take_counter_ions(
    inv: Inventory, ln_h: Array, each: list[Array], aqueous: Array, organic: Array
) -> None:
    """Each pair takes its anion along: aqueous cation times K_ip [X-] Vorg/Vaq."""
    acids = inv.acid_set
    _, water = acids.neutral_and_water(np.exp(ln_h))
    for pair, pull in zip(inv.ion_pairs, each, strict=True):
        cation = aqueous[pair.row] / water[acids.rows == pair.row][0]
        taken = np.minimum(cation * pull, _MOST_OF_ANION * aqueous[pair.counter])
        aqueous[pair.counter] = aqueous[pair.counter] - taken
        organic[pair.counter] = organic[pair.counter] + taken


def _share_of_gas(inv: Inventory, at: _Places) -> Array:
    """Share of the CO2 outside the water that is in the headspace, (N,)."""
    assert inv.co2 is not None
    in_layer = at.K[inv.co2] * at.organic_mL
    whole = in_layer + at.gas_mL
    return np.asarray(np.where(whole > 0, at.gas_mL / np.where(whole > 0, whole, 1.0), 0.0))


def _limits(inv: Inventory, at: _Places, around: Surroundings) -> list[Limit]:
    """Acids and bases that are limited in the water: CO2 by the air, solids by solubility."""
    limits = []
    for i, row in enumerate(inv.acid_set.rows):
        if row == inv.co2 and at.most_co2 is not None:
            elsewhere = at.K[row] * (at.organic_mL / at.water_mL)
            limits.append(Limit(i, inv.acid_set.at(i), at.most_co2, elsewhere))
        elif around.solids and row in inv.precipitating:
            elsewhere = at.K[row] * (at.solvent_mL / at.water_mL)
            limits.append(Limit(i, inv.acid_set.at(i), inv.solubility[row], elsewhere))
    return limits


def _dissolved(
    inv: Inventory, totals: Array, at: _Places, around: Surroundings, limits: list[Limit],
    ln_h: Array,
) -> Array:
    """What is in the liquids (and a headspace) [mmol], (C, N)."""
    if not limits and not around.solids and inv.magnesium is None:
        return totals
    dissolved = totals.copy()
    h = np.exp(ln_h)
    if inv.magnesium is not None:
        most = most_dissolved(h, inv.gel_product) * at.water_mL
        dissolved[inv.magnesium] = np.minimum(totals[inv.magnesium], most)
    acids = inv.acid_set
    for limit in limits:
        row = acids.rows[limit.index]
        dissolved[row] = np.minimum(totals[row], limit.most(h)[0] * at.water_mL)
    if around.solids:
        for row in np.setdiff1d(inv.precipitating, acids.rows):
            most = inv.solubility[row] * (at.water_mL + at.K[row] * at.solvent_mL)
            dissolved[row] = np.minimum(totals[row], most)
    return dissolved


def _place_water(
    inv: Inventory, totals: Array, now: Split, aqueous: Array, organic: Array, only_water: Mask
) -> None:
    """Water dissolved in the organic layer: saturation times the activity of the water layer."""
    aqueous[inv.water] = now.aqueous[inv.water]
    activity = water_activity(inv, aqueous)
    activity = np.where(activity > 0, activity, 1.0)
    taken = np.where(only_water, 0.0, water_capacity_mmol(inv, organic) * activity)
    taken = np.minimum(taken, totals[inv.water])
    organic[inv.water] = taken
    aqueous[inv.water] = totals[inv.water] - taken


def _without_water(
    inv: Inventory, totals: Array, at: _Places, around: Surroundings,
    layers: tuple[Array, Array, Array, Array],
) -> tuple[Array, Array, Array, Array]:
    """Where all water dissolves in the solvent: one organic layer, and what it cannot hold."""
    aqueous, organic, dissolved, headspace = layers
    holds = totals.copy()
    gas = np.zeros(inv.count)
    if around.solids:
        for row in inv.precipitating:
            holds[row] = np.minimum(
                totals[row], inv.solubility[row] * at.K[row] * at.solvent_mL)
    if inv.co2 is not None:
        if at.most_co2 is not None:
            most = at.most_co2 * at.K[inv.co2] * at.organic_mL
            holds[inv.co2] = np.minimum(totals[inv.co2], most)
        gas = holds[inv.co2] * _share_of_gas(inv, at)
    in_layer = holds.copy()
    if inv.co2 is not None:
        in_layer[inv.co2] -= gas
    alone = at.only_organic
    return (np.where(alone, 0.0, aqueous), np.where(alone, in_layer, organic),
            np.where(alone, holds, dissolved), np.where(alone, gas, headspace))
