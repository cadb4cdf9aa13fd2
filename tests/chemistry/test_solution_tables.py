"""Bench solutions and salts: electroneutral, room for water, known parts, right densities."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import pytest

DATA = Path(__file__).parents[2] / "workups" / "chemistry" / "data"


def read(name: str) -> list[dict[str, str]]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines, strict=True))


SUBSTANCES = {row["key"]: row for row in read("substances")}
VALUES = read("values")


def components(text: str) -> dict[str, float]:
    pairs = (part.split(":") for part in text.split(";") if part)
    return {key: float(amount) for key, amount in pairs}


def charge_range(parts: dict[str, float]) -> tuple[float, float]:
    """Lowest and highest charge [mol] the parts can take by losing or keeping protons."""
    ions = {row["ion"]: int(row["charge"]) for row in read("ions")}
    losses: dict[str, int] = defaultdict(int)
    for row in VALUES:
        losses[row["substance"]] += row["property"].startswith("pKa")
    low = high = 0.0
    for key, amount in parts.items():
        top = ions[key] if key in ions else int(SUBSTANCES[key]["charge_top"])
        high += amount * top
        low += amount * (top - (0 if key in ions else losses[key]))
    return low, high


def test_bench_solutions_can_be_electroneutral() -> None:
    rows = {row["key"]: row for row in read("bench_solutions")}
    assert len(rows) >= 40
    acids, bases = ("hcl", "h2so4"), ("naoh", "koh", "lioh")
    for key, row in rows.items():
        low, high = charge_range(components(row["components"]))
        if key.startswith(acids):
            assert high < 0, "protons make up the charge"
        elif key.startswith(bases):
            assert low > 0, "hydroxide makes up the charge"
        else:
            assert low <= 1e-9, key
            assert high >= -1e-9, key


def test_bench_solutions_leave_room_for_water() -> None:
    ions = {row["ion"]: float(row["molar_mass_g_mol"]) for row in read("ions")}
    for row in read("bench_solutions"):
        solute_g_mL = sum(
            amount * (ions.get(key) or float(SUBSTANCES[key]["molar_mass_g_mol"])) / 1000
            for key, amount in components(row["components"]).items()
        )
        density = float(row["density_g_mL"])
        concentrated = row["key"].endswith("_conc")
        assert 0.9 < density < (1.9 if concentrated else 1.3)
        assert (0 if concentrated else 0.7) < density - solute_g_mL < 1.09, row  # OH- as water
        assert 0 < float(row["density_uncertainty"]) <= 0.02
        assert row["how_to_make"]


def test_salts_are_made_of_known_parts() -> None:
    known = {row["ion"] for row in read("ions")} | set(SUBSTANCES)
    for row in read("salts"):
        parts = components(row["components"])
        assert parts
        assert set(parts) <= known


def test_saturated_brine_has_the_published_density() -> None:
    """26.4 wt% NaCl, 6.14 mol/kg, 1.197 g/mL at 25 C; water 0.99705 g/mL (Laliberte 2009)."""
    volume = {r["ion"]: float(r["apparent_molar_volume_mL_mol"]) for r in read("ions")}
    molality = 0.264 / 0.736 / 58.443e-3
    room_mL = 1000 / 0.99705 + molality * (volume["sodium"] + volume["chloride"])
    assert 1000 / 0.736 / room_mL == pytest.approx(1.197, abs=0.001)
