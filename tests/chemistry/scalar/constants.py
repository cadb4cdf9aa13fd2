"""The nominal constants of one exercise as plain floats, by a reader of our own.

Reads the same CSV tables as the program, nothing else of it. Amounts are dictionaries of mmol by
component; ions stand for themselves, everything else for all its protonation states together.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

DATA = Path(__file__).parents[3] / "workups" / "chemistry" / "data"
PROTON, WATER_G_MOL = 1.00728, 18.015
Amounts = dict[str, float]
NEUTRAL_ONLY = "inorganic"


# Rows that an exercise brings along, by table.
_brought: dict[str, list[dict[str, str]]] = {}


@contextmanager
def brought_along(setup: Any) -> Iterator[None]:
    """Adds an exercise's own substances to the tables, for as long as it is simulated."""
    for own in setup.own_substances:
        _bring("substances", key=own.key, molar_mass_g_mol=own.molar_mass,
               charge_top=own.charge_top, classes=" ".join(own.classes))
        for name, q in own.values.items():
            _bring("values", substance=own.key, property=name, value=q.value)
        for solvent, q in own.partition.items():
            _bring("partition", substance=own.key, solvent=solvent, log10_K=q.value)
        if own.antoine:
            a = own.antoine
            _bring("antoine", substance=own.key, A=a.A, B=a.B, C=a.C)
    _forget(setup)
    try:
        yield
    finally:
        _brought.clear()
        _forget(setup)


def _bring(table: str, **row: object) -> None:
    _brought.setdefault(table, []).append({name: str(value) for name, value in row.items()})


def _forget(setup: Any) -> None:
    if setup.own_substances:
        for known in (by_key, values, partition):
            known.cache_clear()


def rows(name: str) -> tuple[dict[str, str], ...]:
    return (*written(name), *_brought.get(name, ()))


@cache
def written(name: str) -> tuple[dict[str, str], ...]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return tuple(csv.DictReader(lines))


@cache
def by_key(name: str, key: str) -> dict[str, dict[str, str]]:
    return {row[key]: row for row in rows(name)}


@cache
def values() -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for row in rows("values"):
        found.setdefault(row["substance"], {})[row["property"]] = float(row["value"])
    return found


@cache
def partition() -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for row in rows("partition"):
        found.setdefault(row["substance"], {})[row["solvent"]] = float(row["log10_K"])
    return found


def parts(text: str) -> Amounts:
    pairs = (part.split(":") for part in text.split(";") if part.strip())
    return {key.strip(): float(amount) for key, amount in pairs}


def is_substance(key: str) -> bool:
    return key in by_key("substances", "key")


def is_ion(key: str) -> bool:
    return key in by_key("ions", "ion")


def classes(key: str) -> set[str]:
    return set(by_key("substances", "key")[key]["classes"].split()) if is_substance(key) else set()


def counted_mass(key: str) -> float:
    """Molar mass [g/mol]; an ion with the proton it takes the place of."""
    if is_substance(key):
        return float(by_key("substances", "key")[key]["molar_mass_g_mol"])
    if is_ion(key):
        ion = by_key("ions", "ion")[key]
        return float(ion["molar_mass_g_mol"]) - PROTON * float(ion["charge"])
    agent = by_key("drying_agents", "agent")[key.removeprefix("agent:")]
    return float(agent["molar_mass_g_mol"])


def counted_volume(key: str) -> float:
    """Molar volume [mL/mmol]."""
    if is_substance(key):
        own, mass = values().get(key, {}), counted_mass(key)
        if "density" in own:
            return mass / own["density"] / 1000.0
        return own.get("apparent_molar_volume", mass / 1.2) / 1000.0
    if is_ion(key):
        return float(by_key("ions", "ion")[key]["apparent_molar_volume_mL_mol"]) / 1000.0
    return counted_mass(key) / 2.5 / 1000.0


def charge(key: str) -> float:
    """Charge of an ion, or of an acid that is one in water at any pH."""
    if is_ion(key):
        return float(by_key("ions", "ion")[key]["charge"])
    return 0.0 if "pKa1" in values().get(key, {}) else least_charge(key)


def least_charge(key: str) -> float:
    """Charge that an acid keeps at any pH: -1 for hydrogensulfate."""
    top = int(by_key("substances", "key")[key]["charge_top"]) if is_substance(key) else 0
    return -1.0 if top < 0 else 0.0


def salt_parts(key: str) -> Amounts:
    """What one mol of a reagent is made of: a salt's ions and the water it brings or uses up."""
    if key not in by_key("salts", "salt"):
        return {key: 1.0}
    row = by_key("salts", "salt")[key]
    made = parts(row["components"])
    rest = float(row["molar_mass_g_mol"]) - sum(counted_mass(k) * n for k, n in made.items())
    water = round(rest / WATER_G_MOL)
    return {**made, "water": float(water)} if water else made


def reagent_mass(key: str) -> float:
    """Molar mass [g/mol] of a reagent: substance, salt, or ion."""
    if is_substance(key):
        return counted_mass(key)
    if key in by_key("salts", "salt"):
        return float(by_key("salts", "salt")[key]["molar_mass_g_mol"])
    return float(by_key("ions", "ion")[key]["molar_mass_g_mol"])


@dataclass(frozen=True)
class Acid:
    """Charge of the fully protonated form and the acid constants [mol/L] of its losses."""

    top: int
    constants: tuple[float, ...]

    def states(self, h: float) -> list[tuple[int, float]]:
        """(charge, share in water) of every protonation state."""
        products = [math.prod(self.constants[:j]) / h**j for j in range(len(self.constants) + 1)]
        whole = sum(products)
        return [(self.top - j, p / whole) for j, p in enumerate(products)]

    def neutral(self, h: float) -> float:
        return sum(share for z, share in self.states(h) if z == 0)

    def mean_charge(self, h: float) -> float:
        return sum(z * share for z, share in self.states(h))


@dataclass
class Constants:
    """Everything the scalar simulation knows of an exercise."""

    setup: Any
    practice: dict[str, float]
    keys: tuple[str, ...] = ()
    solvents: tuple[str, ...] = ()
    acids: dict[str, Acid] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.keys = components(self.setup)
        self.solvents = tuple(k for k in self.keys if k in by_key("solvents", "solvent"))
        self.acids = {k: acid for k in self.keys if (acid := self._acid(k))}
        self.mass = {k: counted_mass(k) for k in self.keys}
        self.molar_volume = {k: counted_volume(k) for k in self.keys}
        self.charge = {k: charge(k) for k in self.keys}
        self.least_charge = {k: least_charge(k) for k in self.keys}
        self.log_k = {s: {k: self._log_k(k, s) for k in self.keys}
                      for s in (*self.solvents, "octanol")}
        self.salting = {k: self._salting(k) for k in self.keys}
        self.cosolvency = {k: self._cosolvency(k) for k in self.keys}
        self.holds = {s: self._holds(s) for s in self.solvents}
        self.henry = values()["carbon_dioxide"]["henry"]
        self.droplets = {s: float(by_key("solvents", "solvent")[s]["droplets_uL_per_mL"])
                         for s in self.solvents}
        self.dimers = {s: 10.0 ** float(row["log10_K2"]) if (
            row := by_key("dimerisation", "solvent").get(s)) else 0.0 for s in self.solvents}
        self.pairs = [(base, ion, solvent, 10.0 ** q.value) for name, q in self.setup.values.items()
                      if name.startswith("log10_Kip:")
                      for base, ion, solvent in [name.split(":")[1:]]]
        self.carboxylic = tuple(k for k in self.keys if "carboxylic_acid" in classes(k))
        self.cosolvents = tuple(k for k in self.keys if "cosolvent" in classes(k))

    def own(self, name: str) -> float | None:
        given = self.setup.values.get(name)
        return None if given is None else given.value

    def _acid(self, key: str) -> Acid | None:
        if not is_substance(key):
            return None
        names = [n for n in ("pKa1", "pKa2", "pKa3") if n in values().get(key, {})]
        constants = []
        for name in names:
            own = self.own(f"{name}:{key}")
            constants.append(10.0 ** -(values()[key][name] if own is None else own))
        top = int(by_key("substances", "key")[key]["charge_top"])
        return Acid(top, tuple(constants)) if constants else None

    def _log_k(self, key: str, solvent: str) -> float | None:
        """log10 K of the neutral form, None for what stays in the water."""
        if not is_substance(key) or key == "water" or self.charge[key]:
            return None
        if key == "carbon_dioxide":
            return math.log10(values().get(solvent, {}).get("co2_ostwald", 3.5) / 0.83)
        own = self.own(f"log10_K:{key}:{solvent}")
        table = partition().get(key, {})
        if own is not None or solvent in table:
            return table[solvent] if own is None else own
        known = values().get(key, {})
        saturating = key == solvent or ("solvent" in classes(key) and not table)
        if saturating and "solvent_in_water" in known and "density" in known:
            return math.log10(known["density"] / (known["solvent_in_water"] / 100.0))
        liquid = "density" in known and known.get("melting_point", -99.0) < 25.0
        if solvent == "octanol" and liquid and "water_solubility" in known and (
                NEUTRAL_ONLY not in classes(key)):
            # Without a solvent: a mL of the liquid by what of it a mL of water dissolves.
            return math.log10(1000.0 * known["density"] / known["water_solubility"])
        return None if NEUTRAL_ONLY in classes(key) else known.get("log_kow")

    def _salting(self, key: str) -> float:
        known = values().get(key, {})
        if not self.setup.salting or not is_substance(key) or key == "water":
            return 0.0
        if "setschenow" in known:
            return known["setschenow"]
        return 0.040 * known["log_kow"] + 0.114 if "log_kow" in known else 0.0

    def _cosolvency(self, key: str) -> float:
        known = values().get(key, {})
        plain = not is_substance(key) or key == "water" or NEUTRAL_ONLY in classes(key)
        if plain or not self.setup.cosolvent or "log_kow" not in known:
            return 0.0
        return max(0.0, 0.95 * known["log_kow"] + 0.30)

    def _holds(self, solvent: str) -> float:
        """Water in the saturated solvent [mmol/mL of solvent]."""
        own = values()[solvent]
        share = own["water_in_solvent"] / 100.0
        return share / (1.0 - share) * own["density"] / WATER_G_MOL * 1000.0

    def volume(self, amounts: Amounts) -> float:
        """Sum of the parts [mL], less 17 mL per mol of hydroxide and weak acids' anions and
        6.2 mL per mol of protonated bases."""
        whole = sum(self.molar_volume[k] * n for k, n in amounts.items())
        surplus = sum((self.charge[k] or self.least_charge[k]) * n for k, n in amounts.items())
        bases = sum(n for k, n in amounts.items() if k in self.acids and self.acids[k].top > 0)
        lost = 0.017 * surplus if surplus > 0 else 0.0062 * min(-surplus, bases)
        return whole - min(lost, whole / 2.0)

    def grams(self, amounts: Amounts) -> float:
        return sum(self.mass[k] * n for k, n in amounts.items()) / 1000.0

    def strong(self, amounts: Amounts) -> float:
        return sum(self.charge[k] * n for k, n in amounts.items())

    def saturation_Pa(self, key: str, celsius: float) -> float:
        """Vapour pressure of a pure component [Pa]; dissolved CO2 leaves like the liquid."""
        if key == "carbon_dioxide":
            return 5.7e6
        row = by_key("antoine", "substance").get(key)
        if row is None:
            return 0.0
        A, B, C = (float(row[name]) for name in "ABC")
        return 10.0 ** (A - B / (celsius + 273.15 + C))

    def per_mL(self, material: str) -> Amounts:
        """Components [mmol] of 1 mL of a liquid; a solution is filled up with water by mass."""
        own = next((m for m in self.setup.own_materials if m.key == material), None)
        solution = by_key("bench_solutions", "key").get(material)
        if own is not None:
            held, density = dict(own.components), own.density_g_mL
        elif solution is not None:
            held, density = parts(solution["components"]), float(solution["density_g_mL"])
        else:
            return {material: 1.0 / self.molar_volume[material]}
        water_g = density - self.grams(held)
        held["water"] = held.get("water", 0.0) + water_g / WATER_G_MOL * 1000.0
        return held


def components(setup: Any) -> tuple[str, ...]:
    """Every component that can occur in an exercise."""
    found = {"water"}
    for reagent in setup.reaction.reagents:
        found.update(reagent.composition or salt_parts(reagent.substance))
    for product in setup.reaction.products:
        found.update(salt_parts(product.substance))
    found.update(target.substance for target in setup.targets)
    for slow in setup.slow_reactions:
        found.update(slow.products)
    own = {m.key: m.components for m in setup.own_materials}
    for material in setup.materials:
        if material in by_key("drying_agents", "agent"):
            found.add(f"agent:{material}")
        elif material in by_key("bench_solutions", "key"):
            found.update(parts(by_key("bench_solutions", "key")[material]["components"]))
        elif material not in own:
            found.add(material)
    for made in own.values():
        found.update(made)
    if {"hypochlorous_acid", "sulfur_dioxide"} <= found:
        found |= {"chloride", "sulfate"}
    if "borohydride" in found:
        found |= {"borate", "hydrogen"}
    return tuple(sorted(found))
