"""Reads the tables in ``data/`` into plain frozen records, once."""

from __future__ import annotations

import csv
import math
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from .constants import PROTON_G_MOL, WATER_G_MOL
from .quantity import Quantity
from .substances import (
    Antoine,
    BenchSolution,
    ClassRate,
    DryingAgent,
    HydrateStep,
    Ion,
    Salt,
    Solvent,
    Substance,
    Tables,
)

DATA = Path(__file__).parent / "data"
Row = Mapping[str, str]


def _rows(name: str) -> Iterator[Row]:
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        yield from csv.DictReader(lines)


def _quantity(row: Row, value: str = "value", unit: str = "") -> Quantity:
    return Quantity(
        float(row[value]),
        unit or row["unit"],
        float(row["uncertainty"]),
        row["source"],
        row["grade"],
        row.get("note", ""),
    )


def _values() -> Mapping[str, dict[str, Quantity]]:
    found: dict[str, dict[str, Quantity]] = defaultdict(dict)
    for row in _rows("values.csv"):
        found[row["substance"]][row["property"]] = _quantity(row)
    return found


def _partition() -> Mapping[str, dict[str, Quantity]]:
    found: dict[str, dict[str, Quantity]] = defaultdict(dict)
    for row in _rows("partition.csv"):
        found[row["substance"]][row["solvent"]] = _quantity(row, "log10_K", "1")
    return found


def _antoine() -> dict[str, Antoine]:
    return {
        row["substance"]: Antoine(
            float(row["A"]),
            float(row["B"]),
            float(row["C"]),
            float(row["T_min_K"]),
            float(row["T_max_K"]),
            float(row["uncertainty_pct"]),
            row["source"],
            row["grade"],
        )
        for row in _rows("antoine.csv")
    }


def _substances() -> dict[str, Substance]:
    values, partition, antoine = _values(), _partition(), _antoine()
    return {
        row["key"]: Substance(
            row["key"],
            row["name"],
            float(row["molar_mass_g_mol"]),
            row["source"],
            row["grade"],
            cas=row["cas"],
            smiles=row["smiles"],
            charge_top=int(row["charge_top"]),
            classes=frozenset(row["classes"].split()),
            hazards=tuple(row["hazards"].split()),
            values=dict(values.get(row["key"], {})),
            partition=dict(partition.get(row["key"], {})),
            antoine=antoine.get(row["key"]),
        )
        for row in _rows("substances.csv")
    }


def _ions() -> dict[str, Ion]:
    return {
        row["ion"]: Ion(
            row["ion"],
            row["name"],
            int(row["charge"]),
            float(row["molar_mass_g_mol"]),
            float(row["apparent_molar_volume_mL_mol"]),
            row["source"],
            row["grade"],
        )
        for row in _rows("ions.csv")
    }


def _yes(text: str) -> bool:
    return text.strip().lower() in ("yes", "true", "1")


def _solvents() -> dict[str, Solvent]:
    dimerisation = {row["solvent"]: _quantity(row, "log10_K2", "L/mol")
                    for row in _rows("dimerisation.csv")}
    return {
        row["solvent"]: Solvent(
            row["solvent"],
            _yes(row["halogenated"]),
            _yes(row["peroxide_former"]),
            row["waste_stream"],
            Quantity(
                float(row["droplets_uL_per_mL"]),
                "uL/mL",
                float(row["droplets_uncertainty"]),
                row["source"],
                row["grade"],
            ),
            dimerisation.get(row["solvent"]),
        )
        for row in _rows("solvents.csv")
    }


def _hydrate_steps() -> Mapping[str, list[HydrateStep]]:
    """Steps of each agent, the readings at several temperatures gathered into one step."""
    readings: dict[tuple[str, float, float], list[Row]] = defaultdict(list)
    for row in _rows("hydrate_steps.csv"):
        to_mol = math.inf if row["to_mol"] == "solution" else float(row["to_mol"])
        readings[row["agent"], float(row["from_mol"]), to_mol].append(row)
    steps: dict[str, list[HydrateStep]] = defaultdict(list)
    for (agent, from_mol, to_mol), rows in readings.items():
        points = tuple(
            sorted((float(r["temperature_C"]), float(r["water_activity"])) for r in rows)
        )
        steps[agent].append(
            HydrateStep(
                from_mol,
                to_mol,
                points,
                max(float(r["uncertainty_log10"]) for r in rows),
                rows[0]["source"],
                max(r["grade"] for r in rows),
            )
        )
    return steps


def _agents() -> dict[str, DryingAgent]:
    staircases = _hydrate_steps()
    agents = {}
    for row in _rows("drying_agents.csv"):
        key = row["agent"]

        def practice(column: str, unit: str, row: Row = row) -> Quantity:
            value = float(row[column])
            return Quantity(value, unit, 0.3 * value, row["source"], "P")

        stairs = staircases.get(key, [])
        agents[key] = DryingAgent(
            key,
            row["name"],
            float(row["molar_mass_g_mol"]),
            row["form"],
            _yes(row["decantable"]),
            practice("wetting_mL_per_g", "mL/g"),
            practice("cake_mL_per_g", "mL/g"),
            practice("time_constant_min", "min"),
            float(row["T_max_C"]),
            practice("clump_from_mol_per_mol", "mol/mol"),
            frozenset(row["incompatible"].split()),
            tuple(s for s in stairs if s.to_mol < math.inf),
            next((s for s in stairs if s.to_mol == math.inf), None),
            row["grade"],
            row["note"],
        )
    return agents


def _components(text: str) -> dict[str, float]:
    pairs = (part.split(":") for part in text.split(";") if part.strip())
    return {key.strip(): float(amount) for key, amount in pairs}


def _solutions() -> dict[str, BenchSolution]:
    return {
        row["key"]: BenchSolution(
            row["key"],
            row["name"],
            Quantity(
                float(row["density_g_mL"]),
                "g/mL",
                float(row["density_uncertainty"]),
                row["source"],
                row["grade"],
            ),
            _components(row["components"]),
            row["how_to_make"],
            row["cautions"],
            row["grade"],
        )
        for row in _rows("bench_solutions.csv")
    }


def _salts(substances: Mapping[str, Substance], ions: Mapping[str, Ion]) -> dict[str, Salt]:
    """Salts with the water they bring (NaOH) or use up (NaBH4), from their molar mass."""

    def counted(key: str) -> float:
        if key in substances:
            return substances[key].molar_mass
        return ions[key].molar_mass - PROTON_G_MOL * ions[key].charge

    salts = {}
    for row in _rows("salts.csv"):
        parts = _components(row["components"])
        mass = float(row["molar_mass_g_mol"])
        rest = mass - sum(counted(k) * n for k, n in parts.items())
        water = round(rest / WATER_G_MOL)
        salts[row["salt"]] = Salt(
            row["salt"],
            row["name"],
            mass,
            {**parts, "water": float(water)} if water else parts,
            row["source"],
            row["grade"],
            row["cas"],
        )
    return salts


def _class_rates() -> Iterator[ClassRate]:
    for row in _rows("class_rates.csv"):
        value, factor = 10.0 ** float(row["log10_k_L_mol_s"]), 10.0 ** float(row["uncertainty"])
        rate = Quantity(value, "L/(mol s)", value * (factor - 1.0), row["source"], row["grade"],
                        row["note"])
        yield ClassRate(row["class"], row["kind"], rate)


def _sources() -> dict[str, str]:
    with (DATA / "sources.toml").open("rb") as handle:
        return {key: entry["citation"] for key, entry in tomllib.load(handle).items()}


@lru_cache(maxsize=1)
def tables() -> Tables:
    """All tables of the simulation, read once."""
    substances, ions = _substances(), _ions()
    return Tables(
        substances,
        ions,
        _solvents(),
        _agents(),
        _solutions(),
        _salts(substances, ions),
        tuple(_class_rates()),
        _sources(),
    )


def tables_with(own: Sequence[Substance]) -> Tables:
    """The tables and an exercise's own substances; the shared tables themselves for none."""
    shared = tables()
    if not own:
        return shared
    return replace(shared, substances={**shared.substances, **{s.key: s for s in own}})
