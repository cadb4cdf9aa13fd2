"""How warm liquids get where they come together: an adiabatic upper bound.

    T = T0 + (H(parts) - H(together)) / C,      T0 the mean of the parts by heat capacity

    H = sum_i n_i sum_j h_ij x_ij + h_w n(OH-) + sum_a n_a (Q_a(inf) - Q_a(w)) + sum_r n_r h_r

H enthalpy [J] against water, neutral substances and ions in much water, n amounts [mmol]. x_ij
share of acid i that has lost j protons, h_ij what losing the j-th takes [kJ/mol], h_w 55.8 for
water: so strong acid and hydroxide give 55.8 kJ/mol, and a weak acid h_w - h_ij. Q_a what a mol of
strong acid gives to w mol of water per mol of acid [kJ/mol], Q = Q(inf) w/(w + k), n_a that of it
which is not neutralised. h_r what acid sets free of a hydride or an organometallic reagent. C heat
capacity [J/K].

Sources, all from memory, grade B. h_w, h_ij of inorganic acids and ammonium, h of borohydride and
sodium hydride: NBS tables of 1982 (formation enthalpies in water at 25 C). Carboxylic acids 0,
phenols 23, protonated bases 5.4 per unit of pKa (ammonia 52, aniline 31, pyridine 20 kJ/mol):
class-typical, 5 kJ/mol either way. Q of sulfuric acid: Thomsen's rule 17860 w/(w + 1.798) cal/mol,
4 to 6 % below the NBS tables; hydrogen chloride (into 0 mol of water: the gas) and nitric acid
fitted to those, within 2 kJ/mol. A methyl Grignard reagent 200, 50 either way. Heat capacities 4.18
(water), 1.7 (organic) and 1.4 J/(g K) (inorganic), 20 %.

Validity: liquids at 0 to 40 C, nothing lost to flask, bath or air, no vapour, carbon dioxide still
dissolved; so above what a thermometer shows. Solids that dissolve or come out add nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from .at_once import turned_over_at_once
from .components import CARBON_DIOXIDE, Inventory
from .constants import KW
from .hydride import BOROHYDRIDE
from .kinds import charge_at
from .sums import over_rows

Array = NDArray[np.float64]

WATER_IONISES_KJ_MOL = 55.8
# What losing the first, second, ... proton takes [kJ/mol].
IONISES_KJ_MOL: Mapping[str, tuple[float, ...]] = {
    "sulfate": (-21.9,), CARBON_DIOXIDE: (9.2, 14.7), "ammonia": (52.2,),
    "phosphate": (-8.0, 3.6, 16.0), "borate": (13.8,), "sulfur_dioxide": (-17.8, -3.7),
    "hypochlorous_acid": (13.9,)}
WEAK_ACID_KJ_MOL, BASE_KJ_MOL_PER_PKA, WEAK_FROM_PKA = 23.0, 5.4, 7.0
# Strong acid: heat in much water [kJ/mol], and mol of water per mol at which half of it is given.
DILUTED_KJ_MOL: Mapping[str, tuple[float, float]] = {
    "sulfate": (74.7, 1.8), "nitrate": (33.3, 1.2), "chloride": (74.8, 0.95)}
BOROHYDRIDE_KJ_MOL = 263.0
# With acid; the component stands for the reagent while there is no water.
DRY_REAGENT_KJ_MOL: Mapping[str, float] = {"hydrogen": 184.0, "methane": 200.0}
WATER_J_G_K, ORGANIC_J_G_K, INORGANIC_J_G_K = 4.18, 1.7, 1.4
MELTING_ICE_J_G = 333.6
# More than a proton gives on its way from one part to another [kJ/mol], between pH 1 and 13.
_MOST_KJ_MOL, _SOUR, _BASIC = 60.0, 1.0, 13.0
_PH_LOW, _PH_HIGH, _BISECTIONS = -3.0, 17.0, 45
_SHARES = (0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 0.75, 1.0)


def heat_capacity_J_K(inv: Inventory, amounts: Array) -> Array:
    """Heat capacity [J/K] of amounts [mmol], (C, N) -> (N,)."""
    per_g = np.full(len(inv.keys), INORGANIC_J_G_K)
    known = inv.tables.substances
    for key, row in inv.index.items():
        if key in known and "inorganic" not in known[key].classes:
            per_g[row] = ORGANIC_J_G_K
    per_g[inv.water] = WATER_J_G_K
    return over_rows(np.maximum(amounts, 0.0) * (inv.molar_mass * per_g)[:, None]) * 1e-3


def enthalpy_J(inv: Inventory, amounts: Array) -> Array:
    """H [J] of amounts [mmol] all in one liquid, (C, N) -> (N,); see the module."""
    volume = np.maximum(inv.volume_mL(amounts), 1e-9)
    h = 10.0 ** -_own_pH(inv, amounts, volume)
    total = WATER_IONISES_KJ_MOL * KW / h * volume
    for acid in inv.acids:
        weight = lost = np.ones(inv.count)
        taken = heat = np.zeros(inv.count)
        for step, constant in zip(_ionises(inv, acid.row), acid.constants, strict=True):
            lost, taken = lost * constant / h, taken + step
            weight, heat = weight + lost, heat + lost * taken
        total = np.asarray(total + amounts[acid.row] * heat / weight)
    total = total + _not_diluted(inv, amounts, h * volume)
    return np.asarray(total + _reagents(inv, amounts))


def _own_pH(inv: Inventory, amounts: Array, volume: Array) -> Array:
    low, high = np.full(inv.count, _PH_LOW), np.full(inv.count, _PH_HIGH)
    for _ in range(_BISECTIONS):
        pH = 0.5 * (low + high)
        h = 10.0**-pH
        sour = charge_at(inv, amounts, pH) + (h - KW / h) * volume > 0
        low, high = np.where(sour, pH, low), np.where(sour, high, pH)
    return np.asarray(0.5 * (low + high))


def _ionises(inv: Inventory, row: int) -> tuple[float, ...]:
    """What losing each proton takes [kJ/mol]: of the table, else by what kind of acid it is."""
    key = inv.keys[row]
    substance = inv.tables.substances[key]
    if key in IONISES_KJ_MOL:
        return IONISES_KJ_MOL[key]
    charges = range(substance.charge_top, substance.charge_top - len(substance.pKa), -1)
    return tuple(
        BASE_KJ_MOL_PER_PKA * pKa.value if charge > 0
        else WEAK_ACID_KJ_MOL if pKa.value > WEAK_FROM_PKA else 0.0
        for charge, pKa in zip(charges, substance.pKa, strict=True))


def _not_diluted(inv: Inventory, amounts: Array, free: Array) -> Array:
    """Heat [J] that strong acid, ``free`` mmol of protons, would give to more water, (N,)."""
    shares, left = {}, free
    for key in DILUTED_KJ_MOL:
        if key in inv.index:
            shares[key] = np.clip(amounts[inv.index[key]], 0.0, left)
            left = left - shares[key]
    acid = sum(shares.values(), np.zeros(inv.count))
    kept = np.zeros(inv.count)
    for key, amount in shares.items():
        most, half = DILUTED_KJ_MOL[key]
        water = np.maximum(amounts[inv.water], 0.0)
        kept = kept + amount * most * half * acid / np.maximum(water + half * acid, 1e-12)
    return kept


def _reagents(inv: Inventory, amounts: Array) -> Array:
    """What hydride and organometallic reagents have still to give [J], (N,)."""
    total = np.zeros(inv.count)
    if BOROHYDRIDE in inv.index:
        total = total + BOROHYDRIDE_KJ_MOL * amounts[inv.index[BOROHYDRIDE]]
    for key, heat in DRY_REAGENT_KJ_MOL.items():
        if key in inv.index:
            there = amounts[inv.index[key]]
            total = total + np.where(amounts[inv.water] > there, 0.0, heat * there)
    return total


Warm = tuple[Array, float]
"""A liquid: amounts [mmol], (C, N), and how warm it is [C]."""


def heat_J(inv: Inventory, parts: Sequence[Array]) -> Array:
    """Heat [J] set free where parts (C, N) come together and react as far as they do so at once,
    below 0 where it is taken up, (N,)."""
    before = sum((enthalpy_J(inv, part) for part in parts), np.zeros(inv.count))
    together = np.asarray(sum(parts, inv.none()))
    return np.asarray(before - enthalpy_J(inv, together + turned_over_at_once(inv, together)))


def adiabatic_C(inv: Inventory, parts: Sequence[Warm]) -> Array:
    """Temperature [C] that liquids come to together, (N,)."""
    held = [heat_capacity_J_K(inv, amounts) for amounts, _ in parts]
    whole = np.maximum(sum(held, np.zeros(inv.count)), 1e-9)
    mean = sum((c * at for c, (_, at) in zip(held, parts, strict=True)), np.zeros(inv.count))
    return np.asarray((mean + heat_J(inv, [amounts for amounts, _ in parts])) / whole)


def at_most_C(inv: Inventory, parts: Sequence[Warm]) -> Array:
    """A temperature [C] that they stay below, worked out faster, (N,): every proton that one has
    to give and another could take, all strong acid diluted without end."""
    gives = [np.maximum(-charge_at(inv, amounts, _BASIC), 0.0) for amounts, _ in parts]
    takes = [np.maximum(charge_at(inv, amounts, _SOUR), 0.0) for amounts, _ in parts]
    heat, held = np.zeros(inv.count), np.zeros(inv.count)
    for i, (amounts, _) in enumerate(parts):
        strong = np.maximum(-charge_at(inv, amounts, _SOUR), 0.0)
        others = sum((t for j, t in enumerate(takes) if j != i), np.zeros(inv.count))
        heat = heat + _MOST_KJ_MOL * np.minimum(gives[i], others)
        heat = heat + _not_diluted(inv, amounts, strong) + _reagents(inv, amounts)
        held = held + heat_capacity_J_K(inv, amounts)
    return np.asarray(max(at for _, at in parts) + heat / np.maximum(held, 1e-9))


def hottest_C(inv: Inventory, there: Warm, poured: Warm) -> Array:
    """The highest temperature [C] on the way while one liquid is poured into another, (N,).

    Water poured into concentrated sulfuric acid passes every mixture of the two and with them the
    hottest; acid poured into much water never does.
    """
    found = np.full(inv.count, -np.inf)
    for share in _SHARES:
        part = poured[0] * share
        found = np.maximum(found, adiabatic_C(inv, (there, (part, poured[1]))))
    return found


def ice_g(heat: Array | float) -> Array:
    """Ice [g] whose melting takes up a heat [J]; 0 where none is set free.

    >>> round(float(ice_g(33360.0)))
    100
    """
    return np.asarray(np.maximum(heat, 0.0) / MELTING_ICE_J_G)
