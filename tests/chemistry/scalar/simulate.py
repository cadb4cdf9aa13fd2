"""A whole plan on plain floats: the second opinion on every number of a nominal run.

Takes the plan and the exercise as data, reads the tables itself, and computes everything again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from . import isolation
from .bench import (
    START,
    Bench,
    Vessel,
    at_once,
    empty_out,
    mixed,
    pour_out,
    rinse_out,
    share_of,
)
from .constants import WATER_G_MOL, Amounts, Constants, reagent_mass, salt_parts, values
from .drying import agent, dry
from .equilibrium import Rest, Surroundings, at_rest, shake
from .parting import part, react
from .stripping import strip


def reagent_mmol(reagent: Any) -> float:
    if reagent.amount_mmol is not None:
        return float(reagent.amount_mmol)
    grams = reagent.mass_g
    if grams is None:
        grams = reagent.volume_mL * values()[reagent.substance]["density"]
    return float(grams) * reagent.purity / reagent_mass(reagent.substance) * 1000.0


def start_bench(c: Constants) -> Bench:
    """Everything charged, turned over as far as the nominal conversion says."""
    reaction = c.setup.reaction
    charged: Amounts = {}
    for reagent in reaction.reagents:
        n = reagent_mmol(reagent)
        charged = mixed(charged, share_of(
            dict(reagent.composition) or salt_parts(reagent.substance), n))
        if reagent.purity < 1.0 and reagent.amount_mmol is None:
            grams = n * reagent_mass(reagent.substance) / 1000.0 * (1.0 / reagent.purity - 1.0)
            charged = mixed(charged, {"water": grams / WATER_G_MOL * 1000.0})
    if reaction.products:
        active = [r for r in reaction.reagents if r.coefficient > 0]
        extent = min(reagent_mmol(r) / r.coefficient for r in active)
        extent *= min(max(reaction.conversion.nominal, 0.0), 1.0)
        for reagent in active:
            used = salt_parts(reagent.substance) if not reagent.composition else dict(
                reagent.composition)
            charged = mixed(charged, share_of(used, -reagent.coefficient * extent))
        for product in reaction.products:
            charged = mixed(charged, share_of(salt_parts(product.substance),
                                              product.coefficient * extent))
    vessel = (Vessel(organic=charged) if c.setup.start_phase == "organic"
              else Vessel(water=charged))
    vessel.celsius = c.setup.start_C
    return Bench({START: vessel}, put_in=dict(charged), room_C=c.setup.room_C)


def add(c: Constants, bench: Bench, step: Any) -> None:
    """Pour a liquid in; anything but a solvent reacts at once with what is dissolved."""
    fresh = share_of(c.per_mL(step.material), step.volume_mL)
    bench.charge_with(fresh)
    there = bench.vessels.get(step.flask, Vessel())
    before_mL = c.volume(there.liquid())
    old = before_mL / max(before_mL + step.volume_mL, 1e-9)
    there.celsius = old * bench.warmth(there) + (1.0 - old) * bench.room_C
    if getattr(step, "on_ice", False):
        there.celsius = isolation.ICE_BATH
    if step.material in c.solvents:
        there.organic = mixed(there.organic, fresh)
        bench.vessels[step.flask] = there
        return
    stir(c, bench, step.flask, there, fresh)


def stir(c: Constants, bench: Bench, name: str, there: Vessel, fresh: Amounts) -> None:
    """A vessel in the open with something new in it."""
    held_back, loose = isolation.set_aside(there.solid)
    together = mixed(there.liquid(), loose, fresh)
    together = at_once(bench, together)
    shaken = shake(c, together, solubility=isolation.limits(c))
    bench.breathe(shaken.escaped)
    bench.gas_mmol = shaken.gas
    rest, _ = react(c, bench, shaken.rest, 2.0, isolation.limits(c))
    bench.vessels[name] = Vessel(
        rest.organic, {}, rest.water, mixed(held_back, rest.solid), rest.pH, there.in_funnel,
        there.celsius)


def fizz(c: Constants, bench: Bench, name: str, liquids: int) -> None:
    """Liquids poured together react where there is water and something that gives gas or is
    destroyed at once."""
    there = bench.vessels[name]
    held = there.everything()
    wet = liquids > 1 and there.water.get("water", 0.0) > 0
    gives_gas = any(held.get(k, 0.0) > 0
                    for k in ("carbon_dioxide", "hydrogen", "methane", "borohydride"))
    bleached = held.get("hypochlorous_acid", 0.0) > 0 and held.get("sulfur_dioxide", 0.0) > 0
    if wet and (gives_gas or bleached):
        stir(c, bench, name, there, {})


def liquids_in(bench: Bench, *names: str) -> int:
    """How many of some vessels hold a liquid."""
    there = [bench.vessels[n] for n in dict.fromkeys(names) if n in bench.vessels]
    return sum(any(n > 0 for n in v.liquid().values()) for v in there)


def combine(c: Constants, bench: Bench, step: Any) -> None:
    liquids = liquids_in(bench, *step.flasks, step.into)
    for name in step.flasks:
        if name != step.into:
            bench.pour_into(step.into, empty_out(c, bench, name))
    fizz(c, bench, step.into, liquids)


def transfer(c: Constants, bench: Bench, step: Any) -> None:
    liquids = liquids_in(bench, step.flask, step.into)
    bench.pour_into(step.into, empty_out(c, bench, step.flask))
    fizz(c, bench, step.into, liquids)
    if step.rinse_with:
        bench.pour_into(step.into, rinse_out(c, bench, step.flask, step.rinse_with,
                                             step.rinse_mL, step.rinses))


def rinse(c: Constants, bench: Bench, step: Any) -> None:
    bench.pour_into(step.into, rinse_out(c, bench, step.flask, step.material, step.volume_mL,
                                         step.rinses))


def filter_off(c: Constants, bench: Bench, step: Any) -> None:
    """Liquid away from a solid; the wet solid holds some, and rinses bring it along."""
    solid = bench.vessels[step.flask].solid
    agents = [k for k in solid if k.startswith("agent:") and solid[k] > 0]
    over = pour_out(c, bench, step.flask)
    h = sum(solid[k] * c.mass[k] / 1000.0
            * agent(k.removeprefix("agent:"), c.setup.room_C).cake for k in agents)
    h += 0.0 if step.method == "decant" else c.practice["paper_mL"]
    h += 0.0 if agents else c.practice["moist_cake_mL_per_g"] * c.grams(solid)
    cake = Vessel(solid=dict(solid), pH=over.pH)
    if not agents:
        volume = c.volume(over.liquid())
        wet = min(h / volume, 0.95) if volume > 0 else 0.0
        clings, over = over.part(wet), over.part(1.0 - wet)
        cake.organic, cake.drops, cake.water = clings.organic, clings.drops, clings.water
    else:
        organic_mL = c.volume(over.organic)
        share = min(h / organic_mL, 0.95) if organic_mL > 0 else 0.0
        cake.organic, cake.drops = share_of(over.organic, share), share_of(over.drops, share)
        cake.water, over.water = over.water, {}
        over.organic = share_of(over.organic, 1.0 - share)
        over.drops = share_of(over.drops, 1.0 - share)
    for _ in range(step.rinses if step.rinse_with and step.rinse_mL > 0 else 0):
        fresh = share_of(c.per_mL(step.rinse_with), step.rinse_mL)
        bench.charge_with(fresh)
        held_mL = c.volume(cake.organic)
        stays = held_mL / (held_mL + step.rinse_mL)
        if step.rinse_with in c.solvents:
            cake.organic = mixed(cake.organic, fresh)
        else:
            over.water = mixed(over.water, fresh)
        over.organic = mixed(over.organic, share_of(cake.organic, 1.0 - stays))
        cake.organic = share_of(cake.organic, stays)
    powder = any(agent(k.removeprefix("agent:"), c.setup.room_C).powder for k in agents)
    if step.method == "decant" and powder:
        fines = min(c.practice["fines_share"], 0.5)
        over.solid = share_of(cake.solid, fines)
        cake.solid = share_of(cake.solid, 1.0 - fines)
    bench.vessels[step.flask] = cake
    if step.receiver == "wet from rinsing":
        left = share_of(c.per_mL("water"), c.practice["wet_flask_mL"])
        bench.charge_with(left)
        over.water = mixed(over.water, left)
    bench.pour_into(step.into, over)


def tare(_c: Constants, bench: Bench, step: Any) -> None:
    bench.vessels.setdefault(step.flask, Vessel())


def weigh(c: Constants, bench: Bench, step: Any) -> None:
    bench.weighed_g = c.grams(bench.vessels[step.flask].everything())


def discard(_c: Constants, bench: Bench, step: Any) -> None:
    bench.throw_away(step.stream, bench.vessels[step.flask].everything())
    bench.vessels[step.flask] = Vessel()


def stand(c: Constants, bench: Bench, step: Any) -> None:
    from math import exp

    vessel, p = bench.vessels[step.flask], c.practice
    if vessel.pH is not None:
        alone, _ = react(c, bench, Rest(vessel.water, {}, vessel.pH), step.minutes, settle=False)
        if alone.water != vessel.water:
            vessel.water, vessel.pH = alone.water, at_rest(c, alone.water).pH
    sunk = (1.0 - exp(-step.minutes / p["droplet_settling_min"])) * (1.0 - p["droplet_floor"])
    vessel.water = mixed(vessel.water, share_of(vessel.drops, sunk))
    vessel.drops = share_of(vessel.drops, 1.0 - sunk)
    vessel.celsius = None


def cool(_c: Constants, bench: Bench, step: Any) -> None:
    bench.vessels[step.flask].celsius = step.to_C


def nothing(_c: Constants, _bench: Bench, _step: Any) -> None:
    """Labels and tests move nothing."""


def crystals(c: Constants, bench: Bench, vessel: Vessel) -> None:
    """A vessel that was worked on: what its water cannot hold falls out, what falls short of its
    solubility dissolves again; none of it where a drying agent lies in it."""
    if not any(k.startswith("agent:") and n > 0 for k, n in vessel.solid.items()):
        dissolve_or_fall_out(c, bench, vessel)
        isolation.drop_salts(c, vessel)


def dissolve_or_fall_out(c: Constants, bench: Bench, vessel: Vessel) -> None:
    most = isolation.limits(c, bench.warmth(vessel))
    solid_there = any(vessel.solid.get(k, 0.0) > 0 for k in most)
    solvents = {k: vessel.organic.get(k, 0.0) for k in c.solvents}
    wet_with = c.practice["moist_cake_mL_per_g"] * c.grams(vessel.solid)
    stirred = c.volume(mixed(vessel.water, vessel.drops)) + c.volume(solvents) > 2.0 * wet_with
    watery = vessel.water if any(solvents.values()) else vessel.liquid()
    mL = c.volume(watery)
    wet = c.volume(vessel.water) > 1.0 and vessel.water.get("water", 0.0) > 0
    clouding = wet and any(watery.get(k, 0.0) > (1.0 + 1e-6) * s * mL for k, s in most.items())
    salts = wet and any(n > 0 and c.charge.get(k, 0.0) for k, n in vessel.solid.items())
    if not (solid_there and stirred) and not clouding and not salts:
        return
    start = None if vessel.pH is None else Rest(
        mixed(vessel.water, vessel.drops), vessel.organic, vessel.pH)
    rest = at_rest(c, vessel.everything(), Surroundings(solubility=most), start=start)
    if solid_there or salts or any(rest.solid.get(k, 0.0) > 0 for k in most):
        vessel.organic, vessel.drops, vessel.water = rest.organic, {}, rest.water
        vessel.solid = rest.solid
        vessel.pH = vessel.pH if vessel.pH is None else rest.pH


STEPS: dict[str, Callable[[Constants, Bench, Any], None]] = {
    "cool": cool, "label": nothing, "test": nothing, "add": add, "quench": add,
    "extract": part, "wash": part, "separate": part, "combine": combine, "transfer": transfer,
    "rinse": rinse, "filter": filter_off, "dry": dry, "strip": strip, "tare": tare,
    "weigh": weigh, "discard": discard, "stand": stand, "adjust": isolation.adjust,
    "collect": isolation.collect,
}


ONLY_LOOKED_AT = ("label", "test", "weigh", "tare")


def simulate(plan: Any, setup: Any, practice: dict[str, float]) -> Iterator[Bench]:
    """The bench after each step of a plan, always the same object: read it before going on."""
    c = Constants(setup, practice)
    bench = start_bench(c)
    for step in plan.steps:
        bench.gas_mmol, bench.shakes = 0.0, []
        STEPS[step.verb](c, bench, step)
        if step.verb not in ONLY_LOOKED_AT:
            for name in {*step.takes(), *step.destinations()} & set(bench.vessels):
                crystals(c, bench, bench.vessels[name])
        yield bench
