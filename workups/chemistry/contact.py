"""Two layers shaken together: who goes where, at which pH, and what gas comes off.

For each substance i with total n_i and neutral-form partition coefficient K_i

    n_i(water) = n_i / (1 + D_i Vorg/Vaq),    D_i = K_i alpha_neutral,i(pH)

with the pH that balances the charge (see ``speciation``). Volumes, salting out, co-solvent and
the composition of the organic layer depend on the result; an outer loop repeats until nothing
moves by more than 1e-11 of its total. The limiting form for constant K and volumes is the
textbook q = (Vaq/(Vaq + K Vorg))^n exactly.

Each draw stops on its own, so a draw does not depend on which others it is computed with.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .inventory import NOT_EXTRACTED, Inventory
from .speciation import NotConverged, Saturated, balance_charge, share_in_water
from .water import salt_mmol, solvent_fractions, water_activity, water_capacity_mmol

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ATMOSPHERE_PA = 101325.0
GAS_CONSTANT = 8.314462618
CELSIUS_0 = 273.15
SMALLEST_LAYER_ML = 0.02
_TOLERANCE = 1e-11
_MAX_ROUNDS = 1000
_LEAP_EVERY, _LEAP_FROM, _LEAP_UP_TO, _FARTHEST = 4, 0.2, 0.99999, 5.0
_GROWING_ROUNDS = 60
_LEAST_CO2_PA = 5e3


@dataclass(frozen=True)
class Split:
    """Two layers at equilibrium: amounts (C, N) [mmol], ln [H+] (N,), water activity (N,).

    ``headspace_mmol`` is the CO2 in a closed headspace; ``escaped`` is filled by ``contact``.
    """

    aqueous: Array
    organic: Array
    ln_h: Array
    water_activity: Array
    headspace_mmol: Array

    @property
    def pH(self) -> Array:
        """pH of the water layer, ideal activities, (N,)."""
        return -self.ln_h / np.log(10.0)


@dataclass(frozen=True)
class Contact:
    """A shake with what came off: dry gas [mmol], everything that left as gas or vapour (C, N).

    ``stoppered_Pa`` absolute pressure if the funnel had been stoppered at once, (N,).
    """

    split: Split
    escaped: Array
    gas_mmol: Array
    co2_Pa: Array
    stoppered_Pa: Array


def molar_gas_volume_mL(celsius: float) -> float:
    """Volume of 1 mmol of ideal gas at 1 atm [mL].

    >>> round(molar_gas_volume_mL(20.0), 2)
    24.06
    """
    return GAS_CONSTANT * (celsius + CELSIUS_0) / ATMOSPHERE_PA * 1e3


@dataclass(frozen=True)
class _Held:
    """In which draws CO2 is kept at saturation with the open air."""

    which: Mask


def effective_log_k(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """log10 K of every component for the layers as they are, (C, N).

    Mixed solvents: mean over the solvents by volume fraction. Salting out: + ks [salt].
    Co-solvent: - sigma f, f the volume fraction of co-solvent in the water layer.
    """
    fractions = solvent_fractions(inv, organic)
    log_k = np.where(fractions.sum(axis=0) > 0, 0.0, inv.log10_K[-1])
    for s in range(len(inv.solvents)):
        log_k = log_k + fractions[s] * inv.log10_K[s]
    volume = np.maximum(inv.volume_mL(aqueous), 1e-9)
    log_k = log_k + inv.setschenow * (salt_mmol(inv, aqueous) / volume)
    if inv.cosolvent_rows.size:
        rows = inv.cosolvent_rows
        mixed = (aqueous[rows] * inv.molar_volume[rows][:, None]).sum(axis=0) / volume
        log_k = log_k - inv.cosolvency * mixed
    return log_k


def solvent_activities(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """Activity of each extraction solvent, (S, N): mole fraction in the organic layer, or how
    near the water layer is to saturation where there is no organic layer."""
    rows = inv.solvent_rows
    moles = organic.sum(axis=0)
    in_layer = organic[rows] / np.where(moles > 0, moles, 1.0)
    volume = np.maximum(inv.volume_mL(aqueous), 1e-9)
    own_k = np.stack([inv.log10_K[s, row] for s, row in enumerate(rows)]) if rows.size else (
        np.zeros((0, inv.count)))
    pure = 1.0 / inv.molar_volume[rows][:, None]
    dissolved = aqueous[rows] / volume * 10.0**own_k / pure
    return np.where(moles > 0, in_layer, np.minimum(dissolved, 1.0))


def vapour_Pa(inv: Inventory, aqueous: Array, organic: Array, celsius: float) -> Array:
    """Partial pressures over the flask [Pa], (C, N): extraction solvents and water."""
    saturation = inv.saturation_Pa(celsius)
    pressures = inv.none()
    rows = inv.solvent_rows
    if rows.size:
        pressures[rows] = solvent_activities(inv, aqueous, organic) * saturation[rows][:, None]
    pressures[inv.water] = water_activity(inv, aqueous) * saturation[inv.water]
    return pressures


def _first_guess(inv: Inventory, totals: Array) -> tuple[Array, Array]:
    drawn_out = np.zeros(len(inv.keys), dtype=bool)
    drawn_out[inv.solvent_rows] = True
    for i in range(len(inv.keys)):
        drawn_out[i] = drawn_out[i] or bool((inv.log10_K[:, i] > 0).all())
    organic = np.where(drawn_out[:, None], totals, 0.0)
    return totals - organic, organic


def _one_layer(
    inv: Inventory, totals: Array, water_mL: Array, organic_mL: Array, organic: Array
) -> tuple[Mask, Mask]:
    """Draws with no organic layer left, and draws whose water all dissolves in the solvent."""
    only_water = organic_mL < SMALLEST_LAYER_ML
    capacity = water_capacity_mmol(inv, organic)
    only_organic = ~only_water & ((totals[inv.water] <= capacity) | (water_mL <= 0))
    return only_water, only_organic


def split_layers(
    inv: Inventory,
    totals: Array,
    *,
    held: _Held | None = None,
    headspace_mL: Array | None = None,
    start: Split | None = None,
) -> Split:
    """Equilibrium of everything in a flask between a water and an organic layer.

    Parameters
    ----------
    totals : amounts in the flask [mmol], (C, N).
    held : draws in which CO2 leaves until it is saturated against the open air.
    headspace_mL : closed gas space the CO2 shares, (N,).

    Returns
    -------
    Split; with ``held`` the CO2 in it is what stays.

    Raises
    ------
    NotConverged : the layers still moved by more than 1e-11 after 1000 rounds.
    """
    if start is None:
        aqueous, organic = _first_guess(inv, totals)
        ln_h = np.full(inv.count, -7.0 * np.log(10.0))
    else:
        aqueous, organic, ln_h = start.aqueous, start.organic, start.ln_h
    headspace = np.zeros(inv.count)
    done = np.zeros(inv.count, dtype=bool)
    move = np.full(inv.count, np.inf)
    scale = np.maximum(totals, 1e-9)
    last_step: Array | None = None
    for turn in range(_MAX_ROUNDS):
        new_aq, new_org, new_head, new_ln_h = _round(
            inv, totals, aqueous, organic, ln_h, held, headspace_mL)
        step = (new_aq - aqueous) / scale
        move = np.abs(step).max(axis=0)
        if turn % _LEAP_EVERY == _LEAP_EVERY - 1 and last_step is not None:
            new_aq, new_org = _leap(
                step, last_step, move, (aqueous, organic), (new_aq, new_org), turn < _GROWING_ROUNDS)
        last_step = step
        aqueous = np.where(done, aqueous, new_aq)
        organic = np.where(done, organic, new_org)
        headspace = np.where(done, headspace, new_head)
        ln_h = np.where(done, ln_h, new_ln_h)
        done = done | (move <= _TOLERANCE)
        if bool(done.all()):
            return Split(aqueous, organic, ln_h, water_activity(inv, aqueous), headspace)
    raise NotConverged(
        f"two layers: amounts still move by {float(move.max()):.1e} after {_MAX_ROUNDS} rounds")


def _leap(
    step: Array, last: Array, move: Array, old: tuple[Array, Array], new: tuple[Array, Array],
    growing: bool,
) -> tuple[Array, Array]:
    """Aitken's leap along a slowly shrinking series of rounds, in each draw for itself.

    Near the point where an organic layer just dissolves the rounds shrink by a ratio r close to
    1; the rest of the series is then r/(1 - r) times the last step. A layer that still grows
    (r above 1) leaps too, in the first rounds only, so that leaps cannot chase each other. No
    amount changes by more than fivefold. Settled draws stay.
    """
    ratio = (step * last).sum(axis=0) / np.maximum((last * last).sum(axis=0), 1e-300)
    slow = (ratio > _LEAP_FROM) & (move > _TOLERANCE)
    if not growing:
        slow = slow & (ratio < 1.0)
    settling = np.minimum(ratio, _LEAP_UP_TO)
    ahead = np.where(slow, settling / (1.0 - np.where(slow, settling, 0.0)), 0.0)
    aqueous = np.clip(new[0] + ahead * (new[0] - old[0]), new[0] / _FARTHEST, new[0] * _FARTHEST)
    organic = np.clip(new[1] + ahead * (new[1] - old[1]), new[1] / _FARTHEST, new[1] * _FARTHEST)
    return aqueous, organic


def _round(
    inv: Inventory, totals: Array, aqueous: Array, organic: Array, ln_h: Array,
    held: _Held | None, headspace_mL: Array | None,
) -> tuple[Array, Array, Array, Array]:
    """One round: constants and volumes from the layers as they are, then new layers."""
    water_mL = inv.volume_mL(aqueous)
    organic_mL = inv.volume_mL(organic)
    only_water, only_organic = _one_layer(inv, totals, water_mL, organic_mL, organic)
    safe_water = np.where(only_organic | (water_mL <= 0), 1.0, water_mL)
    log_k = effective_log_k(inv, aqueous, organic)
    ratio = np.where(only_water, 0.0, organic_mL / safe_water)
    pull = np.where(log_k > NOT_EXTRACTED / 2, 10.0**log_k, 0.0) * ratio
    gas_pull = _gas_pull(inv, headspace_mL, safe_water)
    saturated = _saturation(inv, aqueous, organic, held)
    acids = [a for a in inv.acids if np.any(totals[a.row] > 0)]
    pulls = np.stack([pull[a.row] + (gas_pull if a.row == inv.co2 else 0.0) for a in acids]
                     ) if acids else np.zeros((0, inv.count))
    amounts = totals[[a.row for a in acids]] if acids else np.zeros((0, inv.count))
    ln_h = balance_charge(acids, amounts, pulls, inv.strong_mmol(totals), safe_water,
                          saturated, ln_h)
    stays = 1.0 / (1.0 + pull)
    for acid, p in zip(acids, pulls, strict=True):
        stays[acid.row] = share_in_water(acid, ln_h, p)
    new_aq = totals * stays
    new_org = totals - new_aq
    headspace = np.zeros(inv.count)
    row = inv.co2
    if row is not None:
        new_aq, new_org, headspace = _place_co2(
            inv, new_aq, new_org, pull[row], gas_pull, ln_h, safe_water, saturated)
    _place_water(inv, totals, new_aq, new_org, only_water)
    only = only_organic
    if bool(only.any()):
        new_aq = np.where(only, 0.0, new_aq)
        new_org = np.where(only, totals, new_org)
    return new_aq, new_org, headspace, ln_h


def _gas_pull(inv: Inventory, headspace_mL: Array | None, water_mL: Array) -> Array:
    """Headspace as one more place for neutral CO2: V/(RT H) over the water volume."""
    if headspace_mL is None:
        return np.zeros(inv.count)
    return headspace_mL / (molar_gas_volume_mL(inv.room_C) * inv.co2_henry) / water_mL


def _saturation(
    inv: Inventory, aqueous: Array, organic: Array, held: _Held | None
) -> Saturated | None:
    if held is None or inv.co2 is None:
        return None
    limit = inv.co2_henry * co2_room_Pa(inv, aqueous, organic) / ATMOSPHERE_PA
    return Saturated(inv.co2, limit, held.which)


def co2_room_Pa(inv: Inventory, aqueous: Array, organic: Array) -> Array:
    """Partial pressure of CO2 in a bubble at one atmosphere: what the vapours leave of it."""
    vapours = vapour_Pa(inv, aqueous, organic, inv.room_C).sum(axis=0)
    return np.maximum(ATMOSPHERE_PA - vapours, _LEAST_CO2_PA)


def _place_co2(
    inv: Inventory, aqueous: Array, organic: Array, pull: Array, gas_pull: Array,
    ln_h: Array, water_mL: Array, saturated: Saturated | None,
) -> tuple[Array, Array, Array]:
    """Put CO2 where it belongs: shared with a headspace, or held at saturation."""
    row = inv.co2
    assert row is not None
    acid = next(a for a in inv.acids if a.row == row)
    outside = organic[row]
    total_pull = pull + gas_pull
    part = np.where(total_pull > 0, gas_pull / np.where(total_pull > 0, total_pull, 1.0), 0.0)
    headspace = outside * part
    organic[row] = outside - headspace
    if saturated is not None:
        h = np.exp(ln_h)
        neutral_mmol = saturated.concentration * water_mL
        dissolved = neutral_mmol / acid.neutral_share(h)
        aqueous[row] = np.where(saturated.which, dissolved, aqueous[row])
        organic[row] = np.where(saturated.which, neutral_mmol * pull, organic[row])
    return aqueous, organic, headspace


def _place_water(
    inv: Inventory, totals: Array, aqueous: Array, organic: Array, only_water: Mask
) -> None:
    """Water dissolved in the organic layer: saturation times the activity of the water layer."""
    activity = np.where(water_activity(inv, aqueous) > 0, water_activity(inv, aqueous), 1.0)
    taken = np.where(only_water, 0.0, water_capacity_mmol(inv, organic) * activity)
    taken = np.minimum(taken, totals[inv.water])
    organic[inv.water] = taken
    aqueous[inv.water] = totals[inv.water] - taken


def _neutral_co2(inv: Inventory, split: Split) -> Array:
    """Concentration of neutral CO2 in the water layer [mol/L], (N,)."""
    row = inv.co2
    assert row is not None
    acid = next(a for a in inv.acids if a.row == row)
    volume = np.maximum(inv.volume_mL(split.aqueous), 1e-9)
    return split.aqueous[row] * acid.neutral_share(np.exp(split.ln_h)) / volume


def contact(
    inv: Inventory, totals: Array, *, capacity_mL: float | None = None
) -> Contact:
    """Shake everything in a flask, let the gas out, and say what pressure a stopper would hold.

    Parameters
    ----------
    totals : amounts in the flask [mmol], (C, N).
    capacity_mL : capacity of the funnel; with it the closed pressure is worked out.

    Returns
    -------
    Contact. Escaped gas is saturated with solvent and water vapour:
    n_j = n_CO2 p_j/p_CO2 (never more than there is of j).
    """
    zero = np.zeros(inv.count)
    closed = split_layers(inv, totals)
    if inv.co2 is None or not np.any(totals[inv.co2] > 0):
        pressure = vapour_Pa(inv, closed.aqueous, closed.organic, inv.room_C).sum(axis=0)
        return Contact(closed, inv.none(), zero, zero, ATMOSPHERE_PA + pressure)
    row = inv.co2
    stoppered = _stoppered_Pa(inv, totals, capacity_mL, closed)
    room = co2_room_Pa(inv, closed.aqueous, closed.organic)
    over = _neutral_co2(inv, closed) > inv.co2_henry * room / ATMOSPHERE_PA
    if not bool(over.any()):
        return Contact(closed, inv.none(), zero, room, stoppered)
    opened = split_layers(inv, totals, held=_Held(over), start=closed)
    left = totals[row] - opened.aqueous[row] - opened.organic[row]
    gas = np.where(over, np.maximum(left, 0.0), 0.0)
    room = co2_room_Pa(inv, opened.aqueous, opened.organic)
    escaped = _carried_off(inv, opened, gas, room)
    escaped[row] = np.where(over, left, 0.0)
    aqueous, organic = _without_vapour(inv, opened, escaped)
    after = Split(aqueous, organic, opened.ln_h, water_activity(inv, aqueous),
                  opened.headspace_mmol)
    return Contact(after, escaped, gas, room, stoppered)


def _carried_off(inv: Inventory, split: Split, gas: Array, room: Array) -> Array:
    """Solvent and water vapour that leave with the gas [mmol], (C, N)."""
    pressures = vapour_Pa(inv, split.aqueous, split.organic, inv.room_C)
    carried = pressures / room * gas
    available = split.aqueous + split.organic
    return np.minimum(carried, 0.95 * available)


def _without_vapour(inv: Inventory, split: Split, escaped: Array) -> tuple[Array, Array]:
    """Take what escaped as vapour out of both layers in proportion (CO2 is already out)."""
    aqueous, organic = split.aqueous.copy(), split.organic.copy()
    total = aqueous + organic
    for row in (*inv.solvent_rows.tolist(), inv.water):
        share = np.where(total[row] > 0, escaped[row] / np.where(total[row] > 0, total[row], 1.0),
                         0.0)
        aqueous[row] = aqueous[row] * (1.0 - share)
        organic[row] = organic[row] * (1.0 - share)
    return aqueous, organic


def _stoppered_Pa(
    inv: Inventory, totals: Array, capacity_mL: float | None, closed: Split
) -> Array:
    """Absolute pressure in a funnel stoppered at once: air, vapours and CO2 together."""
    if capacity_mL is None:
        return np.full(inv.count, ATMOSPHERE_PA)
    liquid = inv.volume_mL(closed.aqueous) + inv.volume_mL(closed.organic)
    headspace = np.maximum(capacity_mL - liquid, 0.05 * capacity_mL)
    shut = split_layers(inv, totals, headspace_mL=headspace, start=closed)
    co2 = (shut.headspace_mmol * 1e-3 * GAS_CONSTANT * (inv.room_C + CELSIUS_0)
           / (headspace * 1e-6))
    vapours = vapour_Pa(inv, shut.aqueous, shut.organic, inv.room_C).sum(axis=0)
    return ATMOSPHERE_PA + vapours + co2
