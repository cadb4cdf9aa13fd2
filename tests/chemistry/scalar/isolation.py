"""Solids: solubility, bringing a flask to a pH, collecting on a filter; on plain floats."""

from __future__ import annotations

import math
from typing import Any

from scipy.optimize import brentq

from .bench import WASTE, Bench, Vessel, mixed, share_of
from .constants import Amounts, Constants, classes, is_substance, values
from .equilibrium import Shaken, partition, shake, solvent_mL

MOST_ML = 2000.0


def limits(c: Constants) -> dict[str, float]:
    """Solubility of the neutral form in water [mol/L] of what melts above 25 C."""
    found = {}
    for key in c.keys:
        known = values().get(key, {})
        if not is_substance(key) or key in c.solvents or "inorganic" in classes(key):
            continue
        if "water_solubility" in known and known.get("melting_point", -300.0) >= 25.0:
            found[key] = known["water_solubility"] / c.mass[key]
    return found


def most_dissolved(c: Constants, shaken: Shaken, key: str, solubility: float) -> float:
    """What the liquids hold [mmol]: S over the neutral share in water, K S in the solvent."""
    rest = shaken.rest
    acid = c.acids.get(key)
    neutral = acid.neutral(10.0**-rest.pH) if acid else 1.0
    in_water = solubility * c.volume(rest.water) / max(neutral, 1e-300)
    K = partition(c, rest.water, rest.organic)[key]
    return in_water + K * solubility * sum(solvent_mL(c, rest.organic).values())


def at_rest_with_solids(c: Constants, totals: Amounts) -> tuple[Shaken, Amounts]:
    """Layers, gas and solids together; what is dissolved is found again until it stands."""
    solid: Amounts = {}
    rest = shake(c, totals)
    for _ in range(60):
        new = {k: max(totals.get(k, 0.0) - most_dissolved(c, rest, k, s), 0.0)
               for k, s in limits(c).items() if totals.get(k, 0.0) > 0}
        moved = max((abs(n - solid.get(k, 0.0)) / totals[k] for k, n in new.items()), default=0.0)
        if moved <= 1e-9:
            break
        solid = new
        rest = shake(c, {k: n - solid.get(k, 0.0) for k, n in totals.items()})
    return rest, solid


def adjust(c: Constants, bench: Bench, step: Any) -> None:
    """Add an acid or a base until the water has a pH; precipitate dissolves, solids come out."""
    vessel = bench.vessels[step.flask]
    agent_there = any(k.startswith("agent:") and n > 0 for k, n in vessel.solid.items())
    held_back = vessel.solid if agent_there else {}
    dissolved = mixed(vessel.liquid(), {} if agent_there else vessel.solid)
    per_mL = c.per_mL(step.material)

    def gap(volume: float) -> float:
        totals = mixed(dissolved, share_of(per_mL, volume))
        return at_rest_with_solids(c, totals)[0].rest.pH - step.until_pH

    volume = 0.0
    acidic = c.strong(per_mL) <= 0
    wanted = gap(0.0) > 0 if acidic else gap(0.0) < 0
    if wanted and gap(0.0) * gap(MOST_ML) < 0:
        volume = float(brentq(gap, 0.0, MOST_ML, xtol=1e-12, rtol=1e-14, maxiter=500))
    added = share_of(per_mL, volume)
    bench.charge_with(added)
    shaken, solid = at_rest_with_solids(c, mixed(dissolved, added))
    bench.breathe(shaken.escaped)
    bench.gas_mmol = shaken.gas
    bench.vessels[step.flask] = Vessel(
        shaken.rest.organic, {}, shaken.rest.water, mixed(held_back, solid), shaken.rest.pH)


def collect(c: Constants, bench: Bench, step: Any) -> None:
    """Solid on the filter with what it holds; washed, dried in air; the rest runs through."""
    vessel = bench.vessels[step.flask]
    liquid, solid = vessel.liquid(), dict(vessel.solid)
    h = c.practice["moist_cake_mL_per_g"] * c.grams(solid)
    volume = c.volume(liquid)
    held_share = min(h / volume, 0.9) if volume > 0 else 0.0
    held, through = share_of(liquid, held_share), share_of(liquid, 1.0 - held_share)
    for _ in range(step.washes if step.wash_with else 0):
        fresh = share_of(c.per_mL(step.wash_with), step.wash_mL)
        bench.charge_with(fresh)
        held = mixed(held, fresh)
        held_mL = c.volume(held)
        for key, solubility in limits(c).items():
            taken = min(max(solubility * held_mL - held.get(key, 0.0), 0.0), solid.get(key, 0.0))
            held[key] = held.get(key, 0.0) + taken
            solid[key] = solid.get(key, 0.0) - taken
        stays = h / max(h + step.wash_mL, 1e-9)
        through, held = mixed(through, share_of(held, 1.0 - stays)), share_of(held, stays)
    left = math.exp(-math.log(2.0) * step.air_dry_min / c.practice["air_dry_half_life_min"])
    gone = {k: n * (1.0 - left) for k, n in held.items()
            if c.saturation_Pa(k, c.setup.room_C) > 0}
    bench.breathe(gone)
    held = {k: n - gone.get(k, 0.0) for k, n in held.items()}
    bench.vessels[step.flask] = Vessel(pH=vessel.pH)
    bench.pour_into(step.into, Vessel(water=held, solid=solid, pH=vessel.pH))
    if step.filtrate_in == WASTE:
        bench.throw_away("aqueous", through)
    else:
        bench.pour_into(step.filtrate_in, Vessel(water=through, pH=vessel.pH))
