"""One round towards the equilibrium of two layers, in one draw: new layers from the ones there are.

The layers as they are set the constants: volumes, partition coefficients, what is limited. With
them the pH balances the charge of the water layer (see ``speciation``), and every substance
shares itself out again. ``equilibrium`` repeats this.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from .compiled import Vector, inner
from .constants import ATMOSPHERE_PA
from .gel import most_dissolved
from .layers import molar_gas_volume_mL, room_for_co2_Pa, set_partition, set_vapour_Pa
from .mixture import Mixture
from .speciation import Water, balanced, most_in_water, states
from .water import activity_of_water, additive_mL, strong_in, volume_mL, water_held_mmol

SMALLEST_LAYER_ML, LEAST_LIQUID_ML = 0.02, 0.001
LEAST_TOTAL_MMOL = 1e-9
# A billionth of a molecule [mmol]: less of a substance is none.
NOTHING_MMOL = 1e-30
HALF = 0.5
_NEWTON_STEPS = 2
# In one round; at equilibrium no more leaves than there is.
_MOST_OF_ANION = 0.9


class Around(NamedTuple):
    """What a flask's contents may leave the liquids for: open air, a headspace [mL] (0: none),
    solids."""

    open_air: bool
    headspace_mL: float
    solids: bool


class Layers(NamedTuple):
    """Two layers on the way to equilibrium: amounts [mmol] of each component, (C,) each."""

    aqueous: Vector
    organic: Vector


class Places(NamedTuple):
    """Constants of one round: volumes [mL], and whether there is one layer only.

    Without water ``water_mL`` is 1. ``gas_mL`` is the water that would hold as much neutral CO2 as
    the headspace does, ``most_co2`` the neutral CO2 [mol/L] that open air leaves in water.
    """

    water_mL: float
    organic_mL: float
    solvent_mL: float
    gas_mL: float
    most_co2: float
    only_water: bool
    only_organic: bool


@inner
def pair_up(m: Mixture, now: Layers, water_mL: float) -> None:
    """K_ip [X-] of each ion pair in the layers as they are, and gathered by acid or base."""
    for a in range(len(m.acids)):
        m.acids[a].pairs = 0.0
    for p in range(len(m.pairs)):
        pair = m.pairs[p]
        pair.pull = m.solvents[pair.solvent].fraction * pair.K * now.aqueous[pair.anion] / water_mL
        for a in range(len(m.acids)):
            if m.acids[a].row == pair.cation:
                m.acids[a].pairs += pair.pull


@inner
def states_of(m: Mixture, a: int, h: float) -> tuple[float, float, float, float]:
    """``states`` of an acid or base of the mixture."""
    acid = m.acids[a]
    return states(m.acid_constants[a], acid.levels, acid.top, h)


@inner
def _liquid_mL(m: Mixture, organic: Vector, organic_mL: float, around: Around) -> float:
    """What makes an organic layer [mL]: where solids may come out, no solid makes one by itself,
    nor the water dissolved in it; else a solid could settle as a layer or as a solid, whichever
    the search began with."""
    solids = 0.0
    may_come_out = False
    for i in range(len(organic)):
        if m.components[i].solubility < math.inf:
            may_come_out = True
            solids += organic[i] * m.components[i].molar_volume
    if not (around.solids and may_come_out):
        return organic_mL
    return float(organic_mL - solids - organic[m.water] * m.components[m.water].molar_volume)


@inner
def _places(
    m: Mixture, totals: Vector, now: Layers, ln_h: float, around: Around
) -> Places:
    """The volumes of the layers; sets K and the fractions of the solvents."""
    water_mL = volume_mL(now.aqueous, m.components)
    organic_mL = volume_mL(now.organic, m.components)
    only_water = (organic_mL < SMALLEST_LAYER_ML
                  or _liquid_mL(m, now.organic, organic_mL, around) < LEAST_LIQUID_ML)
    holds = water_held_mmol(now.organic, m.components, m.solvents)
    only_organic = not only_water and (totals[m.water] <= holds or water_mL <= 0.0)
    solvent_mL = set_partition(m, now.aqueous, now.organic)
    gas_mL = around.headspace_mL / (molar_gas_volume_mL(m.room_C) * m.co2_henry)
    most_co2 = math.inf
    if around.open_air and m.co2 >= 0:
        vapours = set_vapour_Pa(m, now.aqueous, now.organic)
        most_co2 = m.co2_henry * room_for_co2_Pa(vapours) / ATMOSPHERE_PA
    if only_water:
        return Places(water_mL if water_mL > 0.0 else 1.0, 0.0, 0.0, gas_mL, most_co2, True, False)
    if only_organic:
        return Places(1.0, organic_mL, solvent_mL, gas_mL, most_co2, False, True)
    grown = _growth(m, now, ln_h, water_mL, organic_mL)
    return Places(water_mL + organic_mL * (1.0 - grown), organic_mL * grown, solvent_mL * grown,
                  gas_mL, most_co2, False, False)


@inner
def _ratio_now(now: Layers, i: int, water_mL: float, organic_mL: float) -> float:
    """D of a component as it is now."""
    in_water = max(now.aqueous[i], LEAST_TOTAL_MMOL) / water_mL
    return float(now.organic[i] / organic_mL / in_water)


@inner
def _growth(m: Mixture, now: Layers, ln_h: float, water_mL: float, organic_mL: float) -> float:
    """By what the volume of the organic layer must change for the present D_i to hold.

    With n_i and D_i given, the share b of the organic layer in the whole volume balances

        sum_i v_i n_i (D_i - 1) / (1 + b (D_i - 1))  =  0

    (as in a flash calculation; the contraction of the water counts as a component that stays in
    it). Newton steps from the present share; neither layer changes more than twofold at once.
    """
    h, loss = math.exp(ln_h), 0.0
    for i in range(len(m.components)):
        m.components[i].D = m.components[i].K
    pair_up(m, now, water_mL)
    for a in range(len(m.acids)):
        component = m.components[m.acids[a].row]
        water, neutral, _, _ = states_of(m, a, h)
        component.D = (component.K * neutral + m.acids[a].pairs) / water
    for p in range(len(m.pairs)):
        i = m.pairs[p].anion
        m.components[i].D = _ratio_now(now, i, water_mL, organic_mL)
        loss = additive_mL(now.organic, m.components) - organic_mL
    m.components[m.water].D = _ratio_now(now, m.water, water_mL, organic_mL)
    contraction = additive_mL(now.aqueous, m.components) - water_mL
    start = organic_mL / (water_mL + organic_mL)
    low, high = HALF * start, 1.0 - HALF * (1.0 - start)
    share = start
    for _ in range(_NEWTON_STEPS):
        outside = 1.0 / (1.0 - share)
        shrunk = contraction * outside
        value, slope = shrunk - loss / share, -shrunk * outside - loss / (share * share)
        for i in range(len(m.components)):
            pull = m.components[i].D - 1.0
            spread = 1.0 / (1.0 + share * pull)
            volume = (now.aqueous[i] + now.organic[i]) * m.components[i].molar_volume
            term = volume * pull * spread
            value, slope = value + term, slope + term * spread * pull
        if slope > 0.0:
            share = min(max(share + value / slope, low), high)
    return share / start


@inner
def _set_acids(m: Mixture, totals: Vector, at: Places, around: Around) -> None:
    """What of acids and bases is in a litre of water, what holds them elsewhere, and what is
    limited: CO2 by the air, solids by solubility."""
    per_L, ratio = 1.0 / at.water_mL, at.organic_mL / at.water_mL
    for a in range(len(m.acids)):
        acid = m.acids[a]
        component = m.components[acid.row]
        acid.amount, acid.pull = totals[acid.row] * per_L, component.K * ratio
        acid.pairs *= ratio
        acid.limit, acid.elsewhere = math.inf, 0.0
        if acid.row == m.co2:
            acid.pull += at.gas_mL * per_L
            acid.limit, acid.elsewhere = at.most_co2, component.K * ratio
        elif around.solids:
            acid.limit = component.solubility
            acid.elsewhere = component.K * (at.solvent_mL / at.water_mL)


@inner
def _ln_h(
    m: Mixture, totals: Vector, at: Places, around: Around, guess: float
) -> tuple[float, float, float]:
    """ln [H+] with these volumes and K; how far rounding leaves it open; what is wrong, else 0."""
    per_L = 1.0 / at.water_mL
    _set_acids(m, totals, at, around)
    magnesium = totals[m.magnesium] * per_L if m.magnesium >= 0 else 0.0
    water = Water(strong_in(totals, m.components) * per_L, magnesium, m.gel_product)
    return balanced(m.acids, m.acid_constants, water, guess)


@inner
def _share_of_gas(m: Mixture, at: Places) -> float:
    """Share of the CO2 outside the water that is in the headspace."""
    whole = m.components[m.co2].K * at.organic_mL + at.gas_mL
    return at.gas_mL / whole if whole > 0.0 else 0.0


@inner
def _share_out(
    m: Mixture, totals: Vector, at: Places, around: Around, ln_h: float, new: Layers
) -> None:
    """Set what is dissolved [mmol] and each layer's part of it, ``new``."""
    h, ratio = math.exp(ln_h), at.organic_mL / at.water_mL
    for i in range(len(totals)):
        component = m.components[i]
        component.dissolved = totals[i]
        if i == m.magnesium:
            component.dissolved = min(
                totals[i], most_dissolved(h, m.gel_product) * at.water_mL)
        elif around.solids and component.solubility < math.inf:
            component.dissolved = min(
                totals[i], component.solubility * (at.water_mL + component.K * at.solvent_mL))
        new.aqueous[i] = component.dissolved / (1.0 + component.K * ratio)
    for a in range(len(m.acids)):
        acid = m.acids[a]
        i, component = acid.row, m.components[acid.row]
        water, neutral, _, _ = states_of(m, a, h)
        component.dissolved = totals[i]
        if acid.limit < math.inf:
            most = most_in_water(acid.limit, acid.elsewhere, water, neutral)
            component.dissolved = min(totals[i], most * at.water_mL)
        new.aqueous[i] = component.dissolved * (
            water / (water + acid.pull * neutral + acid.pairs))
    for p in range(len(m.pairs)):
        _take_anion(m, m.pairs[p], h, ratio, new)
    for i in range(len(totals)):
        new.organic[i] = m.components[i].dissolved - new.aqueous[i]


@inner
def _take_anion(m: Mixture, pair: Any, h: float, ratio: float, new: Layers) -> None:
    """A pair takes its anion along: aqueous cation, fully protonated, times K_ip [X-] Vorg/Vaq."""
    for a in range(len(m.acids)):
        if m.acids[a].row == pair.cation:
            water, _, _, _ = states_of(m, a, h)
            taken = new.aqueous[pair.cation] / water * (pair.pull * ratio)
            new.aqueous[pair.anion] -= min(taken, _MOST_OF_ANION * new.aqueous[pair.anion])


@inner
def _place_water(m: Mixture, totals: Vector, now: Layers, at: Places, new: Layers) -> None:
    """Water dissolved in the organic layer: saturation times the activity of the water layer."""
    new.aqueous[m.water] = now.aqueous[m.water]
    taken = 0.0
    if not at.only_water:
        activity = activity_of_water(new.aqueous, m.water, m.components)
        taken = water_held_mmol(new.organic, m.components, m.solvents)
        taken = min(taken * (activity if activity > 0.0 else 1.0), totals[m.water])
    new.organic[m.water] = taken
    new.aqueous[m.water] = totals[m.water] - taken


@inner
def _without_water(
    m: Mixture, totals: Vector, at: Places, around: Around, new: Layers
) -> None:
    """Where all water dissolves in the solvent: one organic layer, and what it cannot hold."""
    for i in range(len(totals)):
        component = m.components[i]
        component.dissolved = totals[i]
        if i == m.co2 and at.most_co2 < math.inf:
            component.dissolved = min(totals[i], at.most_co2 * component.K * at.organic_mL)
        elif around.solids and component.solubility < math.inf:
            component.dissolved = min(
                totals[i], component.solubility * component.K * at.solvent_mL)
        new.aqueous[i], new.organic[i] = 0.0, component.dissolved


@inner
def one_round(
    m: Mixture, totals: Vector, now: Layers, ln_h: float, around: Around, new: Layers
) -> tuple[float, float, float, float]:
    """One round: constants and volumes from the layers as they are, then ``new`` layers; sets what
    is dissolved.

    ln [H+]; how far rounding leaves it open; CO2 in the headspace [mmol]; and the bracket of a
    charge balance without a root, else 0.
    """
    at = _places(m, totals, now, ln_h, around)
    pair_up(m, now, at.water_mL)
    ln_h, blur, off = _ln_h(m, totals, at, around, ln_h)
    _share_out(m, totals, at, around, ln_h, new)
    if at.only_organic:
        _without_water(m, totals, at, around, new)
    else:
        _place_water(m, totals, now, at, new)
    headspace = 0.0
    if m.co2 >= 0 and at.gas_mL > 0.0:
        headspace = new.organic[m.co2] * _share_of_gas(m, at)
        new.organic[m.co2] -= headspace
    return ln_h, blur, headspace, off
