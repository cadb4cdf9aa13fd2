"""One flask at equilibrium, on plain floats: two layers, pH, gas.

Unknowns are the two layers. For given layers the constants follow (volumes, salting out,
co-solvent, composition of the organic layer); with them the charge balance of the water layer is
one bracketed root (``brentq``), and the layers follow again. Repeated until nothing moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from .constants import WATER_G_MOL, Amounts, Constants

ATMOSPHERE, R, ZERO_C = 101325.0, 8.314462618, 273.15
KW = 1e-14
CO2 = "carbon_dioxide"
LEAST_LAYER_ML, LEAST_CO2_PA = 0.02, 5e3
STILL, MOST_ROUNDS = 1e-14, 40000


@dataclass
class Rest:
    """Layers at equilibrium; ``head`` mmol CO2 in a closed gas space."""

    water: Amounts
    organic: Amounts
    pH: float
    head: float = 0.0


def water_activity(c: Constants, layer: Amounts) -> float:
    """Pitzer's NaCl for all strong electrolytes, ideal for the rest; 0 without water."""
    water = layer.get("water", 0.0)
    if water <= 1e-9:
        return 0.0
    kg = max(water * WATER_G_MOL * 1e-6, 1e-12)
    m = min(salt(c, layer) / 1000.0 / kg, 8.0)
    root = math.sqrt(m)
    phi = (1.0 - 0.3915 * root / (1.0 + 1.2 * root)
           + m * (0.0765 + 0.2664 * math.exp(-2.0 * root)) + 0.00127 * m * m)
    uncharged = sum(n for k, n in layer.items() if not c.charge[k] and k != "water")
    others = max(uncharged - abs(c.strong(layer)), 0.0) / 1000.0 / kg
    return math.exp(-WATER_G_MOL / 1000.0 * (2.0 * m * phi + others))


def salt(c: Constants, layer: Amounts) -> float:
    """Dissolved salt [mmol]: the larger of the charges of the cations and of the anions."""
    charges = [c.charge[k] * n for k, n in layer.items()]
    return max(sum(q for q in charges if q > 0), -sum(q for q in charges if q < 0))


def solvent_mL(c: Constants, layer: Amounts) -> dict[str, float]:
    return {s: layer.get(s, 0.0) * c.molar_volume[s] for s in c.solvents}


def water_held(c: Constants, layer: Amounts) -> float:
    """Water [mmol] an organic layer dissolves at water activity 1."""
    return sum(volume * c.holds[s] for s, volume in solvent_mL(c, layer).items())


def partition(c: Constants, water: Amounts, organic: Amounts) -> dict[str, float]:
    """K of every component for the layers as they are."""
    volumes = solvent_mL(c, organic)
    whole = sum(volumes.values())
    weights = {s: v / whole for s, v in volumes.items()} if whole > 0 else {"octanol": 1.0}
    water_mL = max(c.volume(water), 1e-9)
    salted = salt(c, water) / water_mL
    mixed = sum(c.molar_volume[k] * water.get(k, 0.0) for k in c.cosolvents) / water_mL
    found = {}
    for key in c.keys:
        each = [(w, c.log_k[s][key]) for s, w in weights.items() if w > 0]
        # A component that one solvent of a mixture does not take up at all stays in the water.
        if any(log_k is None for _, log_k in each):
            found[key] = 0.0
            continue
        log_k = sum(w * k for w, k in each)
        found[key] = 10.0 ** (log_k + c.salting[key] * salted - c.cosolvency[key] * mixed)
    return found


def vapours(c: Constants, rest: Rest) -> dict[str, float]:
    """Partial pressures [Pa] of extraction solvents and water over the flask at room temperature.

    By mole fraction in the organic layer; without one, by how near the water is to saturation.
    """
    room = c.setup.room_C
    moles = sum(rest.organic.values())
    water_mL = max(c.volume(rest.water), 1e-9)
    found = {}
    for s in c.solvents:
        if moles > 0:
            activity = rest.organic.get(s, 0.0) / moles
        else:
            saturated = 1.0 / c.molar_volume[s] / 10.0 ** c.log_k[s][s]
            activity = min(rest.water.get(s, 0.0) / water_mL / saturated, 1.0)
        found[s] = activity * c.saturation_Pa(s, room)
    found["water"] = water_activity(c, rest.water) * c.saturation_Pa("water", room)
    return found


def room_for_co2(c: Constants, rest: Rest) -> float:
    return max(ATMOSPHERE - sum(vapours(c, rest).values()), LEAST_CO2_PA)


def at_rest(
    c: Constants, totals: Amounts, *, open_to_air: bool = False, headspace_mL: float = 0.0,
    start: Rest | None = None,
) -> Rest:
    """The layers that form from everything in a flask."""
    if start is None:
        # Solvents, and what every solvent here draws out of water, begin in the organic layer.
        out = {k for k in c.keys if k in c.solvents or all(
            c.log_k[s][k] is not None and c.log_k[s][k] > 0 for s in (*c.solvents, "octanol"))}
        start = Rest({k: n for k, n in totals.items() if k not in out},
                     {k: n for k, n in totals.items() if k in out}, 7.0)
    rest = start
    for _ in range(MOST_ROUNDS):
        new = _once(c, totals, rest, open_to_air, headspace_mL)
        moved = max((abs(new.water.get(k, 0.0) - rest.water.get(k, 0.0)) / max(n, 1e-9)
                     for k, n in totals.items()), default=0.0)
        rest = new
        if moved <= STILL:
            break
    return rest


def _once(
    c: Constants, totals: Amounts, rest: Rest, open_to_air: bool, headspace_mL: float
) -> Rest:
    water_mL, organic_mL = c.volume(rest.water), c.volume(rest.organic)
    if organic_mL < LEAST_LAYER_ML:
        ratio = 0.0
    elif water_mL <= 0 or totals.get("water", 0.0) <= water_held(c, rest.organic):
        return Rest(dict.fromkeys(totals, 0.0), dict(totals), rest.pH)
    else:
        ratio = organic_mL / water_mL
    K = partition(c, rest.water, rest.organic)
    gas = headspace_mL / (R * (c.setup.room_C + ZERO_C) / ATMOSPHERE * 1000.0 * c.henry) / water_mL
    limit = c.henry * room_for_co2(c, rest) / ATMOSPHERE if open_to_air else None
    pH = _pH(c, totals, K, ratio, gas, limit, water_mL)
    h = 10.0**-pH
    water: Amounts = {}
    organic: Amounts = {}
    head = 0.0
    for key, n in totals.items():
        acid = c.acids.get(key)
        neutral = acid.neutral(h) if acid else 1.0
        if key == CO2 and limit is not None:
            water[key] = limit * water_mL / neutral
            organic[key] = limit * water_mL * K[key] * ratio
            continue
        into_gas = gas if key == CO2 else 0.0
        water[key] = n / (1.0 + neutral * (K[key] * ratio + into_gas))
        organic[key] = water[key] * neutral * K[key] * ratio
        if key == CO2:
            head = water[key] * neutral * gas
    activity = water_activity(c, {**water, "water": totals.get("water", 0.0)}) or 1.0
    taken = min(water_held(c, organic) * activity, totals.get("water", 0.0)) if ratio else 0.0
    water["water"], organic["water"] = totals.get("water", 0.0) - taken, taken
    return Rest(water, organic, pH, head)


def _pH(
    c: Constants, totals: Amounts, K: dict[str, float], ratio: float, gas: float,
    limit: float | None, water_mL: float,
) -> float:
    """pH at which the charges of the water layer add up to nothing."""
    strong = c.strong(totals) / water_mL
    present = [(k, a) for k, a in c.acids.items() if totals.get(k, 0.0) > 0]

    def charge(pH: float) -> float:
        h = 10.0**-pH
        q = h - KW / h + strong
        for key, acid in present:
            neutral = acid.neutral(h)
            if key == CO2 and limit is not None:
                dissolved = limit / neutral
            else:
                into_gas = gas if key == CO2 else 0.0
                dissolved = totals[key] / water_mL / (1.0 + neutral * (K[key] * ratio + into_gas))
            q += acid.mean_charge(h) * dissolved
        return q

    return float(brentq(charge, -2.0, 16.0, xtol=1e-15, rtol=1e-15, maxiter=300))


@dataclass
class Shaken:
    """Layers after the gas has left; ``escaped`` [mmol], ``gas`` dry CO2 [mmol]."""

    rest: Rest
    escaped: Amounts
    gas: float
    stoppered_Pa: float | None


def shake(c: Constants, totals: Amounts, capacity_mL: float | None = None) -> Shaken:
    """Shake, let the gas out: it leaves saturated with the vapours of solvent and water."""
    closed = at_rest(c, totals)
    if totals.get(CO2, 0.0) <= 0:
        pressure = ATMOSPHERE + sum(vapours(c, closed).values())
        return Shaken(closed, {}, 0.0, pressure)
    stoppered = None if capacity_mL is None else _stoppered(c, totals, closed, capacity_mL)
    h = 10.0**-closed.pH
    dissolved = closed.water[CO2] * c.acids[CO2].neutral(h) / max(c.volume(closed.water), 1e-9)
    if dissolved <= c.henry * room_for_co2(c, closed) / ATMOSPHERE:
        return Shaken(closed, {}, 0.0, stoppered)
    rest = at_rest(c, totals, open_to_air=True, start=closed)
    left = totals[CO2] - rest.water[CO2] - rest.organic[CO2]
    gas, room = max(left, 0.0), room_for_co2(c, rest)
    escaped = {CO2: left}
    pressures = vapours(c, rest)
    water, organic = dict(rest.water), dict(rest.organic)
    for key, pressure in pressures.items():
        there = water.get(key, 0.0) + organic.get(key, 0.0)
        gone = min(pressure / room * gas, 0.95 * there)
        escaped[key] = gone
        keep = 1.0 - gone / there if there > 0 else 1.0
        for layer in (water, organic):
            if key in layer:
                layer[key] *= keep
    return Shaken(Rest(water, organic, rest.pH), escaped, gas, stoppered)


def _stoppered(c: Constants, totals: Amounts, closed: Rest, capacity_mL: float) -> float:
    """Absolute pressure [Pa] of air, vapours and CO2 in a funnel stoppered at once."""
    liquid = c.volume(closed.water) + c.volume(closed.organic)
    headspace = max(capacity_mL - liquid, 0.05 * capacity_mL)
    shut = at_rest(c, totals, headspace_mL=headspace, start=closed)
    co2 = shut.head / 1000.0 * R * (c.setup.room_C + ZERO_C) / (headspace * 1e-6)
    return ATMOSPHERE + sum(vapours(c, shut).values()) + co2
