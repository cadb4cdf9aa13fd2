"""Solids: solubility, bringing a flask to a pH, collecting on a filter; on plain floats."""

from __future__ import annotations

import math
from typing import Any

from scipy.optimize import brentq

from .bench import WASTE, Bench, Vessel, at_once, mixed, share_of
from .constants import Amounts, Constants, by_key, classes, is_substance, values
from .equilibrium import BUBBLES, partition, shake, water_held
from .parting import react

MOST_ML = 2000.0
ICE_BATH = 5.0
SLOPE_K = 25e3 / 8.314462618


def limits(c: Constants, celsius: float | None = None) -> dict[str, float]:
    """Solubility of the neutral form in water [mol/L] of what melts above 25 C, from 25 C to
    another temperature (the room's) by ln S = a - SLOPE_K/T."""
    found = {}
    kelvin = 273.15 + (c.setup.room_C if celsius is None else celsius)
    factor = math.exp(SLOPE_K / 298.15 - SLOPE_K / kelvin)
    for key in c.keys:
        known = values().get(key, {})
        if not is_substance(key) or key in c.solvents or "inorganic" in classes(key):
            continue
        if "water_solubility" in known and known.get("melting_point", -300.0) >= 25.0:
            found[key] = factor * known["water_solubility"] / c.mass[key]
    return found


def set_aside(solid: Amounts) -> tuple[Amounts, Amounts]:
    """What does not dissolve again (a drying agent with what it holds), and what may."""
    agent_there = any(k.startswith("agent:") and n > 0 for k, n in solid.items())
    return (solid, {}) if agent_there else ({}, solid)


def quiet(c: Constants, bench: Bench, there: Amounts) -> tuple[Amounts, float]:
    """A mixture after what reacts at once, without hydrogen and methane; gas that left."""
    there = at_once(bench, there)
    if not any(there.get(k, 0.0) > 0 for k in BUBBLES):
        return there, 0.0
    shaken = shake(c, there, solubility=limits(c))
    bench.breathe(shaken.escaped)
    return {k: n - shaken.escaped.get(k, 0.0) for k, n in there.items()}, shaken.gas


def adjust(c: Constants, bench: Bench, step: Any) -> None:
    """Add an acid or a base until the water has a pH; precipitate dissolves, solids come out."""
    vessel = bench.vessels[step.flask]
    held_back, loose = set_aside(vessel.solid)
    dissolved, gas = quiet(c, bench, mixed(vessel.liquid(), loose))
    per_mL, formed = c.per_mL(step.material), False
    if shake(c, dissolved).rest.water.get("water", 0.0) <= 0 and per_mL.get("water", 0.0) > 0:
        missing = (water_held(c, dissolved) + 3.0 * dissolved.get("borohydride", 0.0)
                   - dissolved.get("water", 0.0))
        first = share_of(per_mL, max(missing, 0.0) / per_mL["water"] + 1.0)
        bench.charge_with(first)
        dissolved, more = quiet(c, bench, mixed(dissolved, first))
        gas, formed = gas + more, True

    def gap(volume: float) -> float:
        totals = mixed(dissolved, share_of(per_mL, volume))
        return shake(c, totals, solubility=limits(c)).rest.pH - step.until_pH

    volume = 0.0
    own_pH = shake(c, share_of(per_mL, 10.0)).rest.pH
    wanted = gap(0.0) > 0 if own_pH < step.until_pH else gap(0.0) < 0
    enough = formed and not wanted
    wanted = wanted and shake(c, dissolved).rest.water.get("water", 0.0) > 0
    if wanted and gap(0.0) * gap(MOST_ML) < 0:
        volume = float(brentq(gap, 0.0, MOST_ML, xtol=1e-12, rtol=1e-14, maxiter=500))
    elif not enough and shake(c, dissolved).rest.water.get("water", 0.0) > 0:
        # Out of reach: to a unit from the pH at 2 L, if it lies on the way there and what is
        # poured is an acid or a base.
        first_gap, last_gap = gap(0.0), gap(MOST_ML)
        down = own_pH <= 6.5 and first_gap > 0 and last_gap < first_gap
        up = own_pH >= 7.5 and first_gap < 0 and last_gap > first_gap
        nearly = last_gap + (1.0 if down else -1.0)
        if (down and first_gap > nearly) or (up and first_gap < nearly):
            volume = float(brentq(lambda v: gap(v) - nearly, 0.0, MOST_ML, xtol=1e-12, rtol=1e-14,
                                  maxiter=500))
    added = share_of(per_mL, volume)
    bench.charge_with(added)
    shaken = shake(c, mixed(dissolved, added), solubility=limits(c))
    bench.breathe(shaken.escaped)
    bench.gas_mmol = gas + shaken.gas
    rest, _ = react(c, bench, shaken.rest, 10.0, limits(c))
    bench.vessels[step.flask] = Vessel(
        rest.organic, {}, rest.water, mixed(held_back, rest.solid), rest.pH,
        celsius=ICE_BATH if step.on_ice else vessel.celsius)


def drop_salts(c: Constants, vessel: Vessel) -> None:
    """Ions that lie in an organic solvent without any water go to the bottom as salts: with each
    other first, then with bases (not in a halogenated solvent) or acids, strongest first."""
    organic = vessel.organic
    ions = {k: c.charge[k] * n for k, n in organic.items() if c.charge[k] and n > 0}
    solvents = {k: c.molar_volume[k] * organic.get(k, 0.0) for k in c.solvents}
    helpers = sum(c.molar_volume[k] * organic.get(k, 0.0) for k in c.cosolvents)
    loose = vessel.water.get("water", 0.0) + vessel.drops.get("water", 0.0)
    if not ions or loose > 0 or organic.get("water", 0.0) > water_held(c, organic):
        return
    if any(organic.get(k, 0.0) > 0 for k in (*BUBBLES, "borohydride", "carbon_dioxide")):
        return
    whole = sum(solvents.values())
    if whole <= 1.0 or helpers >= 0.1 * whole:
        return
    plus = sum(q for q in ions.values() if q > 0)
    minus = -sum(q for q in ions.values() if q < 0)
    table = by_key("solvents", "solvent")
    chlorinated = sum(v for k, v in solvents.items() if table[k]["halogenated"] == "yes")
    down: Amounts = {}
    rest = abs(plus - minus)
    kind = 1 if minus > plus else 0
    partners = [(a.constants[0], k) for k, a in c.acids.items() if a.top == kind]
    if minus > plus and chlorinated > 0.5 * whole:
        partners = []
    for _, key in sorted(partners, reverse=plus > minus):
        down[key] = min(organic.get(key, 0.0), rest)
        rest -= down[key]
    paired = sum(down.values())
    for key, q in ions.items():
        side, more = (plus, plus > minus) if q > 0 else (minus, minus > plus)
        down[key] = organic[key] * (min(plus, minus) + (paired if more else 0.0)) / side
    vessel.solid = mixed(vessel.solid, down)
    vessel.organic = mixed(organic, share_of(down, -1.0))


def collect(c: Constants, bench: Bench, step: Any) -> None:
    """Solid on the filter with what it holds; washed, dried in air; the rest runs through."""
    vessel = bench.vessels[step.flask]
    water, organic, solid = mixed(vessel.water, vessel.drops), vessel.organic, dict(vessel.solid)
    h = c.practice["moist_cake_mL_per_g"] * c.grams(solid)
    volume = c.volume(vessel.liquid())
    held = min(h / volume, 0.9) if volume > 0 else 0.0
    wet = [share_of(water, held), share_of(organic, held)]
    through = [share_of(water, 1.0 - held), share_of(organic, 1.0 - held)]
    for _ in range(step.washes if step.wash_with else 0):
        fresh = share_of(c.per_mL(step.wash_with), step.wash_mL)
        bench.charge_with(fresh)
        layer = 1 if step.wash_with in c.solvents else 0
        wet[layer] = mixed(wet[layer], fresh)
        rinse_solid(c, wet, solid)
        stays = h / max(h + step.wash_mL, 1e-9)
        through = [mixed(t, share_of(w, 1.0 - stays)) for t, w in zip(through, wet, strict=True)]
        wet = [share_of(w, stays) for w in wet]
    left = math.exp(-math.log(2.0) * step.air_dry_min / c.practice["air_dry_half_life_min"])
    for liquid in wet:
        gone = {k: n * (1.0 - left) for k, n in liquid.items()
                if c.saturation_Pa(k, c.setup.room_C) > 0}
        bench.breathe(gone)
        liquid.update({k: liquid[k] - n for k, n in gone.items()})
    bench.vessels[step.flask] = Vessel(pH=vessel.pH, celsius=vessel.celsius)
    bench.pour_into(step.into, Vessel(
        wet[1], {}, wet[0], solid, pH=vessel.pH, celsius=vessel.celsius))
    if step.filtrate_in == WASTE:
        bench.throw_away("aqueous", mixed(*through))
    else:
        bench.pour_into(step.filtrate_in, Vessel(
            through[1], {}, through[0], pH=vessel.pH, celsius=vessel.celsius))


def rinse_solid(c: Constants, wet: list[Amounts], solid: Amounts) -> None:
    """What a wash on the filter, water and solvent, still has room for of the solid; an acid that
    pairs up makes the more room the more of it is there."""
    before, was = [dict(w) for w in wet], dict(solid)
    water_mL = c.volume(wet[0])
    solvent_mL = c.volume({k: wet[1].get(k, 0.0) for k in c.solvents})
    for _ in range(60 if solvent_mL > 0 else 1):
        K = partition(c, wet[0], wet[1])
        for key, solubility in limits(c).items():
            there = before[0].get(key, 0.0) + before[1].get(key, 0.0)
            parts = (water_mL, K[key] * solvent_mL if solvent_mL > 0 else 0.0)
            taken = min(max(solubility * sum(parts) - there, 0.0), was.get(key, 0.0))
            solid[key] = was.get(key, 0.0) - taken
            for layer, old, part in zip(wet, before, parts, strict=True):
                layer[key] = old.get(key, 0.0) + (taken * part / sum(parts) if taken > 0 else 0.0)
