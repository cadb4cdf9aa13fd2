"""Vessels and what is done with them, one step at a time, on plain floats."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from .constants import Amounts, Constants
from .equilibrium import Rest

WASTE, START = "waste", "reaction flask"


def mixed(*liquids: Amounts) -> Amounts:
    total: defaultdict[str, float] = defaultdict(float)
    for liquid in liquids:
        for key, n in liquid.items():
            total[key] += n
    return dict(total)


def share_of(liquid: Amounts, share: float) -> Amounts:
    return {key: share * n for key, n in liquid.items()}


@dataclass
class Vessel:
    """What is in a flask: organic layer, water drops in it, water layer, solids [mmol]."""

    organic: Amounts = field(default_factory=dict)
    drops: Amounts = field(default_factory=dict)
    water: Amounts = field(default_factory=dict)
    solid: Amounts = field(default_factory=dict)
    pH: float | None = None
    in_funnel: bool = False
    celsius: float | None = None  # None: as warm as the room

    def liquid(self) -> Amounts:
        return mixed(self.organic, self.drops, self.water)

    def everything(self) -> Amounts:
        return mixed(self.liquid(), self.solid)

    def part(self, share: float) -> Vessel:
        """A share of every liquid, without the solid."""
        return Vessel(share_of(self.organic, share), share_of(self.drops, share),
                      share_of(self.water, share), {}, self.pH, celsius=self.celsius)


@dataclass
class Bench:
    """All vessels, the films on their glass, waste, what went into the air, what was put in."""

    vessels: dict[str, Vessel] = field(default_factory=dict)
    films: dict[str, Amounts] = field(default_factory=dict)
    waste: dict[str, Amounts] = field(default_factory=dict)
    air: Amounts = field(default_factory=dict)
    put_in: Amounts = field(default_factory=dict)
    gas_mmol: float = 0.0
    shakes: list[dict[str, Any]] = field(default_factory=list)
    weighed_g: float | None = None
    room_C: float = 20.0

    def warmth(self, vessel: Vessel) -> float:
        return self.room_C if vessel.celsius is None else vessel.celsius

    def pour_into(self, name: str, what: Vessel) -> None:
        there = self.vessels.get(name)
        if there is None:
            self.vessels[name] = what
            return
        if there.pH is None or what.pH is None:
            pH = there.pH if what.pH is None else what.pH
        else:
            pH = None
        self.vessels[name] = Vessel(
            mixed(there.organic, what.organic), mixed(there.drops, what.drops),
            mixed(there.water, what.water), mixed(there.solid, what.solid), pH,
            there.in_funnel or what.in_funnel, max(self.warmth(there), self.warmth(what)))

    def throw_away(self, stream: str, what: Amounts) -> None:
        self.waste[stream] = mixed(self.waste.get(stream, {}), what)

    def add_film(self, name: str, what: Amounts) -> None:
        self.films[name] = mixed(self.films.get(name, {}), what)

    def breathe(self, gone: Amounts) -> None:
        self.air = mixed(self.air, gone)

    def charge_with(self, added: Amounts) -> None:
        self.put_in = mixed(self.put_in, added)

    def everything(self) -> Amounts:
        places = [v.everything() for v in self.vessels.values()]
        return mixed(*places, *self.films.values(), *self.waste.values(), self.air)


def pour_out(c: Constants, bench: Bench, name: str) -> Vessel:
    """The liquid of a vessel without the film that stays on the glass; its solid stays too."""
    vessel = bench.vessels[name]
    volume = c.volume(vessel.liquid())
    left = min(c.practice["film_mL"] / volume, 0.3) if volume > 0 else 0.0
    bench.add_film(name, share_of(vessel.liquid(), left))
    bench.vessels[name] = Vessel(solid=vessel.solid, celsius=vessel.celsius)
    return vessel.part(1.0 - left)


def empty_out(c: Constants, bench: Bench, name: str) -> Vessel:
    """The liquid and the solid of a vessel; a film stays."""
    poured = pour_out(c, bench, name)
    poured.solid = bench.vessels[name].solid
    bench.vessels[name] = Vessel()
    return poured


def rinse_out(
    c: Constants, bench: Bench, name: str, material: str, volume_mL: float, times: int
) -> Vessel:
    """The film of a vessel brought out by rinses: (h/(h + r))^n of it stays."""
    if times <= 0 or volume_mL <= 0:
        return Vessel()
    film = bench.films.get(name, {})
    h = max(c.volume(film), 1e-9)
    left = (h / (h + volume_mL)) ** times
    bench.films[name] = share_of(film, left)
    fresh = share_of(c.per_mL(material), volume_mL * times)
    bench.charge_with(fresh)
    brought = share_of(film, 1.0 - left)
    if material in c.solvents:
        return Vessel(organic=mixed(brought, fresh))
    return Vessel(organic=brought, water=fresh)


def settled(c: Constants, rest: Rest, step: Any) -> tuple[Vessel, Vessel]:
    """Organic layer with drops of water in it, water layer with a little of the organic one."""
    p, minutes = c.practice, step.settle_min
    gel = rest.solid.get("magnesium", 0.0)
    time = p["droplet_settling_min"] * (p["gel_slowing"] if gel > 0.1 else 1.0)
    interface_with_water = step.interface == "with the water layer"
    organic_mL, water_mL = c.volume(rest.organic), c.volume(rest.water)
    volumes = {s: rest.organic.get(s, 0.0) * c.molar_volume[s] for s in c.solvents}
    whole = sum(volumes.values())
    per_mL = sum(c.droplets[s] * v / whole for s, v in volumes.items()) / 1000.0 if whole else (
        p["neat_droplets_uL_mL"] / 1000.0)
    hanging = p["droplet_floor"] + (1.0 - p["droplet_floor"]) * math.exp(
        -minutes / time)
    water_mL = max(water_mL, 1e-9)
    positive = sum(c.charge[k] * n for k, n in rest.water.items() if c.charge[k] > 0)
    negative = -sum(c.charge[k] * n for k, n in rest.water.items() if c.charge[k] < 0)
    brine = max(positive, negative) / water_mL > 2.0
    hanging_mL = per_mL * organic_mL * hanging * (p["brine_clearing"] if brine else 1.0)
    if organic_mL > 0 and not interface_with_water:
        hanging_mL += p["interface_mL"]
    drops = min(hanging_mL / water_mL, 0.5)
    cut = 0.0
    if organic_mL > 0 and c.volume(rest.water) > 0:
        lost_mL = gel * p["gel_organic_mL_per_mmol"]
        lost_mL += p["organic_cut_mL"] if interface_with_water else 0.0
        cut = min(lost_mL / max(organic_mL, 1e-9), 0.3)
    upper = Vessel(share_of(rest.organic, 1.0 - cut), share_of(rest.water, drops), pH=rest.pH)
    lower = Vessel(share_of(rest.organic, cut), {}, share_of(rest.water, 1.0 - drops),
                   {k: n for k, n in rest.solid.items() if n > 0}, rest.pH)
    return upper, lower


def at_once(bench: Bench, there: Amounts) -> Amounts:
    """A mixture after what reacts in it without waiting; entered as put in."""
    there = mixed(there, bleach_and_bisulfite(bench, there))
    return mixed(there, hydride_and_water(bench, there))


def hydride_and_water(bench: Bench, there: Amounts) -> Amounts:
    """HBH4 + 3 H2O -> B(OH)3 + 4 H2, as far as there is of both."""
    n = min(there.get("borohydride", 0.0), there.get("water", 0.0) / 3.0)
    if n <= 0:
        return {}
    turned = {"borohydride": -n, "water": -3.0 * n, "borate": n, "hydrogen": 4.0 * n}
    bench.charge_with(turned)
    return turned


def bleach_and_bisulfite(bench: Bench, there: Amounts) -> Amounts:
    """HOCl + SO2 + H2O -> HCl + H2SO4, as far as there is of both; entered as put in."""
    n = min(there.get("hypochlorous_acid", 0.0), there.get("sulfur_dioxide", 0.0))
    if n <= 0:
        return {}
    turned = {"hypochlorous_acid": -n, "sulfur_dioxide": -n, "water": -n, "chloride": n,
              "sulfate": n}
    bench.charge_with(turned)
    return turned
