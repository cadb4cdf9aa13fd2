"""Extraction, wash and separation on plain floats."""

from __future__ import annotations

import math
from typing import Any

from .bench import (
    WASTE,
    Bench,
    Vessel,
    at_once,
    empty_out,
    mixed,
    settled,
    share_of,
)
from .constants import Amounts, Constants, classes, rows, values
from .equilibrium import Rest, Surroundings, at_rest, shake


def part(c: Constants, bench: Bench, step: Any) -> None:
    """Shake with each portion; keep one layer, pool what is set aside."""
    vessel = bench.vessels[step.flask]
    if vessel.in_funnel:
        vessel.in_funnel = False
        funnel = vessel
        bench.vessels[step.flask] = Vessel()
    else:
        funnel = empty_out(c, bench, step.flask)
    fresh_each = step.verb in ("extract", "wash")
    pooled: Vessel | None = None
    bench.gas_mmol, bench.shakes = 0.0, []
    organic_was_kept: bool | None = None
    for number in range(step.portions if fresh_each else 1):
        if fresh_each:
            funnel = with_portion(c, bench, funnel, step, first=number == 0)
        organic, water, two, by_place = one_shake(c, bench, funnel, step)
        if not two:
            # A single layer has no place in the funnel: it follows its like of the shake before.
            by_place = bool(c.volume(organic.organic) > 0 if organic_was_kept is None
                            else organic_was_kept)
        organic_was_kept = by_place
        kept, other = (organic, water) if by_place else (water, organic)
        aside, funnel = (kept, other) if step.verb == "extract" else (other, kept)
        pooled = aside if pooled is None else together(pooled, aside)
    kept, other = (pooled, funnel) if step.verb == "extract" else (funnel, pooled)
    kept.in_funnel = step.keep == "upper"
    other.in_funnel = False
    for name, layer in ((step.keep_in, kept), (step.other_in, other)):
        if name == WASTE:
            bench.throw_away("aqueous", layer.everything())
        else:
            bench.pour_into(name, layer)


def with_portion(c: Constants, bench: Bench, funnel: Vessel, step: Any, first: bool) -> Vessel:
    fresh = share_of(c.per_mL(step.material), step.volume_mL)
    bench.charge_with(fresh)
    poured = Vessel(organic=fresh) if step.material in c.solvents else Vessel(water=fresh)
    if first and step.verb == "extract" and step.rinse_flask and step.flask in bench.films:
        film, half_mL = bench.films[step.flask], c.volume(fresh) / 2.0
        h = max(c.volume(film), 1e-9)
        left = h / (h + half_mL)
        bench.films[step.flask] = share_of(film, left)
        poured.organic = mixed(poured.organic, share_of(film, 1.0 - left))
    return together(funnel, poured)


def together(one: Vessel, two: Vessel) -> Vessel:
    pH = one.pH if two.pH is None else two.pH if one.pH is None else None
    return Vessel(mixed(one.organic, two.organic), mixed(one.drops, two.drops),
                  mixed(one.water, two.water), mixed(one.solid, two.solid), pH)


def one_shake(
    c: Constants, bench: Bench, funnel: Vessel, step: Any
) -> tuple[Vessel, Vessel, bool, bool]:
    """The organic and the water layer, whether there are two, and whether the layer at the place
    asked for is the organic one."""
    totals = at_once(bench, funnel.everything())
    shaken = shake(c, totals, c.setup.glassware.funnel_mL)
    bench.breathe(shaken.escaped)
    rest, turned = react(c, bench, shaken.rest)
    organic, water = settled(c, rest, step)
    organic_mL, water_mL = c.volume(rest.organic), c.volume(rest.water)
    organic_density = density(c, organic.liquid())
    upper_is_organic = organic_density < density(c, rest.water)
    bench.gas_mmol += shaken.gas
    bench.shakes.append({
        "pH": rest.pH, "gas_mmol": shaken.gas, "organic_mL": organic_mL, "aqueous_mL": water_mL,
        "organic_density": organic_density, "aqueous_density": density(c, rest.water),
        "stoppered_Pa": shaken.stoppered_Pa, "fill": c.volume(totals)
        / c.setup.glassware.funnel_mL, "reacted": turned, "escaped": shaken.escaped})
    two = water_mL > 0 and organic_mL > 0
    return organic, water, two, upper_is_organic == (step.keep == "upper")


def density(c: Constants, liquid: Amounts) -> float:
    volume = c.volume(liquid)
    return c.grams(liquid) / volume if volume > 0 else 0.0


def assumed_rates(c: Constants) -> list[tuple[str, str, float, dict[str, float], float]]:
    """What the class of a product without a pKa says of it where the exercise says nothing:
    substance, kind, rate, no products, and the least share that counts."""
    stated = {(s.substrate, s.kind) for s in c.setup.slow_reactions}
    targets = dict.fromkeys(t.substance for t in c.setup.targets)
    return [
        (key, row["kind"], 10.0 ** float(row["log10_k_L_mol_s"]), {}, 1e-5)
        for key in targets for row in rows("class_rates")
        if row["class"] in classes(key) and "pKa1" not in values().get(key, {})
        and (key, row["kind"]) not in stated]


def react(
    c: Constants, bench: Bench, rest: Rest, minutes: float | None = None,
    solubility: dict[str, float] | None = None, settle: bool = True,
) -> tuple[Rest, dict[str, float]]:
    """Slow reactions over one shake, first order in the substrate of the water layer."""
    minutes = c.practice["shake_min"] if minutes is None else minutes
    turned: dict[str, float] = {}
    change: Amounts = {}
    h = 10.0**-rest.pH
    stated = [(s.substrate, s.kind, s.k_L_mol_s.value, s.products, 0.0)
              for s in c.setup.slow_reactions]
    for substrate, kind, k, products, least in (*stated, *assumed_rates(c)):
        strength = 1e-14 / h if kind == "base" else h
        in_water = rest.water.get(substrate, 0.0)
        total = in_water + rest.organic.get(substrate, 0.0)
        rate = k * strength * (in_water / total if total > 0 else 0.0)
        extent = total * (1.0 - math.exp(-rate * minutes * 60.0))
        if rate * minutes * 60.0 < 1e-4:
            extent = total * -math.expm1(-rate * minutes * 60.0)
        for used, per_mol in products.items():
            if per_mol < 0:
                left = sum(a.get(used, 0.0) for a in (rest.water, rest.organic, change))
                extent = min(extent, max(left, 0.0) / -per_mol)
        if kind == "base":
            extent = min(extent, strength * c.volume(rest.water))
        if extent < least * total:
            extent = 0.0
        change[substrate] = change.get(substrate, 0.0) - extent
        for product, per_mol in products.items():
            change[product] = change.get(product, 0.0) + per_mol * extent
        turned[substrate] = turned.get(substrate, 0.0) + extent
    if not any(extent > 0 for extent in turned.values()):
        return rest, turned
    bench.charge_with(change)
    if not settle:
        return Rest(mixed(rest.water, change), rest.organic, rest.pH), turned
    totals = mixed(rest.water, rest.organic, rest.solid, change)
    around = Surroundings(solubility=solubility or {})
    return at_rest(c, totals, around, start=rest), turned
