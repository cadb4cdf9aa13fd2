"""Taking the solvent off, on plain floats: two liquids, one liquid, sweeping on."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from scipy.optimize import brentq

from .bench import Bench, Vessel, mixed, share_of
from .constants import Amounts, Constants
from .equilibrium import ATMOSPHERE, CO2, water_held

LEAST_SHARE = 1e-4


def strip(c: Constants, bench: Bench, step: Any) -> None:
    vessel = bench.vessels[step.flask]
    until = step.pressure_mbar * 100.0 if step.method == "rotary" else ATMOSPHERE
    left, boiled = evaporated(c, vessel, step, until)
    before, after = vessel.everything(), left.everything()
    bench.breathe({k: n - after.get(k, 0.0) for k, n in before.items()})
    splash = min(c.practice["bump_loss"], 0.2) if boiled else 0.0
    bench.add_film("condenser", share_of(left.organic, splash))
    left.organic = share_of(left.organic, 1.0 - splash)
    bench.vessels[step.flask] = left


def evaporated(
    c: Constants, vessel: Vessel, step: Any, until_Pa: float
) -> tuple[Vessel, bool]:
    pure = {k: c.saturation_Pa(k, step.bath_C) for k in c.keys}
    free = mixed(vessel.drops, vessel.water)
    ions = as_ions(c, vessel)
    salts = {k: n if pure[k] == 0.0 else ions[k] for k, n in free.items()
             if pure[k] == 0.0 or k in ions}
    free = {k: n - ions.get(k, 0.0) for k, n in free.items()}
    pot = mixed(vessel.organic, {k: n for k, n in free.items() if pure[k] > 0.0 and k != "water"})
    pot["water"] = vessel.organic.get("water", 0.0)
    pot, drops = two_liquids(c, pot, free.get("water", 0.0), pure)
    # Water dissolved in the solvent pushes as 1/x_sat times its share; drops push as water does.
    per_mol = water_per_solvent(c, vessel.organic)
    pot["water"] += drops
    pot.pop(CO2, None)  # long gone
    xi, boiled, pressure = 0.0, False, dict(pure)
    heats = [step.bath_C]
    while step.method == "distil" and heats[0] - 10.0 > 20.0:
        heats.insert(0, heats[0] - 10.0)
    for bath_C in heats:
        pot = {k: n * math.exp(-pressure[k] * xi) for k, n in pot.items()}
        pressure = {k: c.saturation_Pa(k, bath_C) for k in c.keys}
        if drops <= 0:
            pressure["water"] *= (1.0 + per_mol) / per_mol
        xi = boiled_down(pot, pressure, until_Pa)
        boiled = boiled or xi > 0
    vacuum = boiled and step.method == "rotary"
    half_life = c.practice["sweep_half_life_min" if vacuum else "open_half_life_min"]
    # Everything taken off as solvent sets the pace; where there is none, water does.
    pace_Pa = max(mean_pressure((*c.solvents, *c.cosolvents), vessel.liquid(), pure),
                  pure["water"])
    # A distillation at one atmosphere takes off what boils and no more.
    if step.method != "distil":
        xi += math.log(2.0) * step.hold_min / half_life / pace_Pa
    rest = {k: n * math.exp(-pressure[k] * xi) for k, n in pot.items()}
    return Vessel(organic=rest, solid=mixed(vessel.solid, salts), pH=vessel.pH,
                  celsius=vessel.celsius), boiled


def as_ions(c: Constants, vessel: Vessel) -> Amounts:
    """Acids and bases that are salts in the water layer, carbonate aside: they do not evaporate."""
    if vessel.pH is None:
        return {}
    h = 10.0**-vessel.pH
    return {k: n * (1.0 - c.acids[k].neutral(h)) for k, n in vessel.water.items()
            if k in c.acids and k != CO2}


def mean_pressure(keys: Iterable[str], liquid: Amounts, pure: dict[str, float]) -> float:
    """Mean vapour pressure of some components by amount [Pa]."""
    amounts = {k: liquid.get(k, 0.0) for k in keys}
    whole = sum(amounts.values())
    return sum(n * pure[k] for k, n in amounts.items()) / whole if whole > 0 else 0.0


def water_per_solvent(c: Constants, layer: Amounts) -> float:
    """Water at saturation per solvent [mol/mol]: by volume fractions of the solvents."""
    volumes = {s: layer.get(s, 0.0) * c.molar_volume[s] for s in c.solvents}
    whole = sum(volumes.values())
    if whole <= 0:
        return 1e-9
    holds = sum(c.holds[s] * v / whole for s, v in volumes.items())
    volume = sum(c.molar_volume[s] * v / whole for s, v in volumes.items())
    return max(holds * volume, 1e-9)


def two_liquids(
    c: Constants, pot: Amounts, loose: float, pure: dict[str, float]
) -> tuple[Amounts, float]:
    """While drops of water are there: solvent and water leave as their vapour pressures."""
    water = pot["water"] + loose
    pot = {**pot, "water": min(water, water_held(c, pot))}
    drops = water - pot["water"]
    solvent = sum(pot.get(s, 0.0) for s in c.solvents)
    if drops <= 0 or solvent <= 0:
        return pot, max(drops, 0.0)
    ratio = pure["water"] / mean_pressure(c.solvents, pot, pure)
    held = water_per_solvent(c, pot)

    def drops_left(n: float) -> float:
        return water - ratio * (solvent - n) - held * n

    # Drops at the start; if they are gone before the solvent, the root says with how much left.
    left = brentq(drops_left, 0.0, solvent, xtol=1e-15) if drops_left(0.0) < 0 else 0.0
    water_left = max(water - ratio * (solvent - left), 0.0)
    share = max(left / solvent, LEAST_SHARE)
    pot = {k: n * share if k in c.solvents else n for k, n in pot.items()}
    if left > 0:
        return {**pot, "water": water_left}, 0.0
    pot["water"] = min(water_left, held * sum(pot.get(s, 0.0) for s in c.solvents))
    return pot, max(water_left - pot["water"], 0.0)


def boiled_down(pot: Amounts, pressure: dict[str, float], until_Pa: float) -> float:
    """xi of n = n0 exp(-P xi) where the pressure over the pot has fallen to the pump's."""

    def over(xi: float) -> float:
        left = {k: n * math.exp(-pressure[k] * xi) for k, n in pot.items()}
        moles = sum(left.values())
        return (sum(n * pressure[k] for k, n in left.items()) / moles if moles > 0 else 0.0
                ) - until_Pa

    if over(0.0) <= 0:
        return 0.0
    least = min(p for p in pressure.values() if p > 0)
    end = 80.0 / min(max(least, 1.0), 1e9)
    # Nothing but volatile things: it boils to the end of the span.
    if over(end) > 0:
        return end
    return float(brentq(over, 0.0, end, xtol=1e-300, rtol=1e-15, maxiter=2000))
