"""One flask at equilibrium, on plain floats: two layers, pH, gas.

Unknowns are the two layers. For given layers the constants follow (volumes, salting out,
co-solvent, composition of the organic layer); with them the charge balance of the water layer is
one bracketed root (``brentq``), and the layers follow again. Repeated until nothing moves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from scipy.optimize import brentq

from .constants import WATER_G_MOL, Amounts, Constants

ATMOSPHERE, R, ZERO_C = 101325.0, 8.314462618, 273.15
KW = 1e-14
CO2, MG = "carbon_dioxide", "magnesium"
BUBBLES = ("hydrogen", "methane")
LEAST_LAYER_ML, LEAST_CO2_PA = 0.02, 5e3
STILL, MOST_ROUNDS = 1e-12, 40000


@dataclass
class Rest:
    """Layers at equilibrium; ``head`` mmol CO2 in a closed gas space; what came out."""

    water: Amounts
    organic: Amounts
    pH: float
    head: float = 0.0
    solid: Amounts = field(default_factory=dict)


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
        # A solvent that takes up none of a component counts as if it were not there.
        each = [(w, c.log_k[s][key]) for s, w in weights.items()
                if w > 0 and c.log_k[s][key] is not None]
        share = sum(w for w, _ in each)
        if share == 0:
            found[key] = 0.0
            continue
        log_k = sum(w * k for w, k in each) / share
        found[key] = share * 10.0 ** (
            log_k + c.salting[key] * salted - c.cosolvency[key] * mixed)
    k2 = sum(w * c.dimers.get(s, 0.0) for s, w in weights.items())
    acids = sum(organic.get(k, 0.0) for k in c.carboxylic)
    if k2 > 0 and acids > 0:
        total = acids / c.volume(organic)
        # Monomer m from 2 K2 m^2 + m = total; the acid in all is total/m times the monomer.
        monomer = 2.0 * total / (1.0 + math.sqrt(1.0 + 8.0 * k2 * total))
        for key in c.carboxylic:
            found[key] *= total / monomer
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


@dataclass
class Surroundings:
    """Where things may go besides the two layers."""

    open_to_air: bool = False
    headspace_mL: float = 0.0
    solubility: dict[str, float] = field(default_factory=dict)


SHUT = Surroundings()


def at_rest(
    c: Constants, totals: Amounts, around: Surroundings = SHUT, start: Rest | None = None
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
        new = Round(c, totals, rest, around).rest()
        moved = max((abs(after.get(k, 0.0) - before.get(k, 0.0)) / max(n, 1e-9)
                     for k, n in totals.items()
                     for after, before in ((new.water, rest.water), (new.organic, rest.organic))),
                    default=0.0)
        rest = new
        if moved <= STILL:
            break
    return rest


class Round:
    """New layers from the constants that the present ones set."""

    def __init__(self, c: Constants, totals: Amounts, now: Rest, around: Surroundings) -> None:
        self.c, self.totals, self.now, self.around = c, totals, now, around
        self.water_mL, self.organic_mL = c.volume(now.water), c.volume(now.organic)
        # What may come out as a solid makes no layer by itself, nor does water.
        liquid = now.organic if not around.solubility else {
            k: n for k, n in now.organic.items() if k not in around.solubility and k != "water"}
        self.no_organic = self.organic_mL < LEAST_LAYER_ML or c.volume(liquid) < 0.001
        if self.no_organic:
            # Too little for a layer of its own; where there is no water either, 1 mL stands in.
            self.organic_mL = 0.0
            self.water_mL = self.water_mL if self.water_mL > 0 else 1.0
        dissolves = totals.get("water", 0.0) <= water_held(c, now.organic)
        self.no_water = not self.no_organic and (self.water_mL <= 0 or dissolves)
        self.K = partition(c, now.water, now.organic)
        self.gas_mL = around.headspace_mL / (
            R * (c.setup.room_C + ZERO_C) / ATMOSPHERE * 1000.0 * c.henry)
        self.solvent_mL = 0.0 if self.no_organic else sum(solvent_mL(c, now.organic).values())
        self.pairing = self._pairing()
        self.limits = dict(around.solubility)
        if around.open_to_air:
            self.limits[CO2] = c.henry * room_for_co2(c, now) / ATMOSPHERE

    def _pairing(self) -> list[tuple[str, str, float]]:
        """Base, anion, and K_ip [X-] Vorg in mL of water, for each pair there may be."""
        volumes = solvent_mL(self.c, self.now.organic)
        whole = sum(volumes.values())
        if self.no_organic or whole <= 0 or self.water_mL <= 0:
            return []
        return [(base, ion, K * volumes.get(solvent, 0.0) / whole * self.organic_mL
                 * self.now.water.get(ion, 0.0) / self.water_mL)
                for base, ion, solvent, K in self.c.pairs
                if base in self.totals and ion in self.totals]

    def paired(self, key: str, h: float) -> float:
        """mL of water that would hold, as what is there, what left of a base as ion pairs."""
        acid = self.c.acids.get(key)
        if acid is None or not any(base == key for base, _, _ in self.pairing):
            return 0.0
        whole, weight = 1.0, 1.0
        for constant in acid.constants:
            weight *= constant / h
            whole += weight
        return sum(mL for base, _, mL in self.pairing if base == key) / whole

    def holds(self, key: str, neutral: float, water_mL: float) -> float:
        """The liquids' share of a component [mmol] when the neutral share in water is given."""
        there = self.totals[key]
        if key not in self.limits:
            return there
        layer_mL = self.organic_mL if key == CO2 else self.solvent_mL
        in_water = water_mL / neutral if water_mL else 0.0
        return min(there, self.limits[key] * (in_water + self.K[key] * layer_mL))

    def shares(self, key: str, neutral: float, paired: float = 0.0) -> tuple[float, float, float]:
        """How the dissolved amount spreads over water, organic layer and gas space."""
        outside = neutral * self.K[key] * self.organic_mL + paired
        gas = neutral * self.gas_mL if key == CO2 else 0.0
        whole = self.water_mL + outside + gas
        return self.water_mL / whole, outside / whole, gas / whole

    def rest(self) -> Rest:
        return self.organic_alone() if self.no_water else self.two_layers()

    def organic_alone(self) -> Rest:
        organic = {k: self.holds(k, 1.0, 0.0) for k in self.totals}
        solid = {k: n - organic[k] for k, n in self.totals.items() if k != CO2}
        head = 0.0
        if CO2 in organic and self.gas_mL > 0:
            in_layer = self.K[CO2] * self.organic_mL
            head = organic[CO2] * self.gas_mL / (in_layer + self.gas_mL)
            organic[CO2] -= head
        return Rest(dict.fromkeys(self.totals, 0.0), organic, self.now.pH, head, solid)

    def two_layers(self) -> Rest:
        pH = float(brentq(self.charge, *self.around_pH(), xtol=1e-15, rtol=1e-15, maxiter=300))
        h = 10.0**-pH
        water: Amounts = {}
        organic: Amounts = {}
        solid: Amounts = {}
        head = 0.0
        for key in self.totals:
            acid = self.c.acids.get(key)
            neutral = acid.neutral(h) if acid else 1.0
            held = self.holds(key, neutral, self.water_mL)
            in_water, in_organic, in_gas = self.shares(key, neutral, self.paired(key, h))
            water[key], organic[key] = (water.get(key, 0.0) + held * in_water,
                                        organic.get(key, 0.0) + held * in_organic)
            for base, ion, mL in self.pairing:
                if base == key:
                    cation = dict(self.c.acids[base].states(h))[1] * held * in_water
                    gone = cation * mL / self.water_mL
                    water[ion] = water.get(ion, 0.0) - gone
                    organic[ion] = organic.get(ion, 0.0) + gone
            if key == CO2:
                head = held * in_gas
            else:
                solid[key] = self.totals[key] - held
        if MG in self.totals:
            water[MG] = self.magnesium(h)
            solid[MG] = self.totals[MG] - water[MG]
        all_water = self.totals.get("water", 0.0)
        now = self.now.water.get("water", 0.0)
        activity = water_activity(self.c, {**water, "water": now}) or 1.0
        taken = 0.0 if self.no_organic else min(
            water_held(self.c, organic) * activity, all_water)
        water["water"], organic["water"] = all_water - taken, taken
        return Rest(water, organic, pH, head, solid)

    def around_pH(self) -> tuple[float, float]:
        """Where the charge, which falls with the pH all the way, changes its sign: close to the pH
        of the round before, which takes fewer steps, or anywhere."""
        for width in (1e-7, 1e-3):
            low, high = self.now.pH - width, self.now.pH + width
            if self.charge(low) > 0.0 > self.charge(high):
                return low, high
        return -2.0, 16.0

    def magnesium(self, h: float) -> float:
        """Magnesium [mmol] that hydroxide leaves in the water: [Mg][OH]^2 at most 10^-10.88."""
        return min(self.totals.get(MG, 0.0), 10.0**-10.88 / (KW / h) ** 2 * self.water_mL)

    def charge(self, pH: float) -> float:
        """Charge of the water layer at a pH [mol/L]; nothing where it is right."""
        h = 10.0**-pH
        q = h - KW / h + self.c.strong(self.totals) / self.water_mL
        q -= 2.0 * (self.totals.get(MG, 0.0) - self.magnesium(h)) / self.water_mL
        for key, acid in self.c.acids.items():
            if self.totals.get(key, 0.0) > 0:
                neutral = acid.neutral(h)
                paired = self.paired(key, h)
                in_water = self.holds(key, neutral, self.water_mL) * self.shares(
                    key, neutral, paired)[0]
                # The strong ions are counted wherever they are, so what left as a pair counts.
                q += (acid.mean_charge(h) + paired / self.water_mL) * in_water / self.water_mL
        return q


@dataclass
class Shaken:
    """Layers after the gas has left; ``escaped`` [mmol], ``gas`` dry CO2 [mmol]."""

    rest: Rest
    escaped: Amounts
    gas: float
    stoppered_Pa: float | None


def shake(
    c: Constants, totals: Amounts, capacity_mL: float | None = None,
    solubility: dict[str, float] | None = None,
) -> Shaken:
    """Shake, let the gas out: it leaves saturated with the vapours of solvent and water."""
    solubility = solubility or {}
    bubbles = {k: n for k, n in totals.items() if k in BUBBLES and n > 0}
    totals = {k: n for k, n in totals.items() if k not in bubbles}
    closed = at_rest(c, totals, Surroundings(solubility=solubility))
    others = sum(bubbles.values())
    if totals.get(CO2, 0.0) <= 0 and not bubbles:
        pressure = ATMOSPHERE + sum(vapours(c, closed).values())
        return Shaken(closed, {}, 0.0, pressure)
    stoppered = None if capacity_mL is None else _stoppered(
        c, totals, closed, capacity_mL, solubility, others)
    rest, escaped = closed, dict(bubbles)
    if totals.get(CO2, 0.0) > 0 and co2_pressure(c, closed) > room_for_co2(c, closed):
        rest = at_rest(c, totals, Surroundings(True, solubility=solubility), start=closed)
        escaped[CO2] = totals[CO2] - rest.water[CO2] - rest.organic[CO2]
    gas, room = max(sum(escaped.values()), 0.0), room_for_co2(c, rest)
    if not escaped:
        return Shaken(closed, {}, 0.0, stoppered)
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
    return Shaken(Rest(water, organic, rest.pH, 0.0, rest.solid), escaped, gas, stoppered)


def co2_pressure(c: Constants, rest: Rest) -> float:
    """Pressure [Pa] of the CO2 that is dissolved: by the water, else by the organic layer."""
    water_mL, organic_mL = c.volume(rest.water), c.volume(rest.organic)
    if rest.water.get("water", 0.0) > 0:
        neutral = c.acids[CO2].neutral(10.0**-rest.pH)
        return rest.water[CO2] * neutral / max(water_mL, 1e-9) / c.henry * ATMOSPHERE
    K = partition(c, rest.water, rest.organic)[CO2]
    return rest.organic[CO2] / (K * organic_mL) / c.henry * ATMOSPHERE if organic_mL > 0 else 0.0


def _stoppered(
    c: Constants, totals: Amounts, closed: Rest, capacity_mL: float, solubility: dict[str, float],
    others: float,
) -> float:
    """Absolute pressure [Pa] of air, vapours and gases in a funnel stoppered at once."""
    headspace = max(capacity_mL - c.volume(totals), 0.05 * capacity_mL)
    shut = closed if totals.get(CO2, 0.0) <= 0 else at_rest(
        c, totals, Surroundings(False, headspace, solubility), start=closed)
    co2 = (shut.head + others) / 1000.0 * R * (c.setup.room_C + ZERO_C) / (headspace * 1e-6)
    return ATMOSPHERE + sum(vapours(c, shut).values()) + co2
