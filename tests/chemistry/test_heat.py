"""Heats of mixing and neutralisation against handbook values and worked examples."""

from __future__ import annotations

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.heat import adiabatic_C, at_most_C, enthalpy_J, heat_J, hottest_C, ice_g
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.materials import poured
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.chemistry.tables import tables

BOTTLES = ("water", "hcl_1m", "hcl_conc", "naoh_1m", "naoh_6m", "h2so4_conc", "nh3_2m",
           "nahco3_5pct", "diethyl_ether")
EXTRA = ("acetic_acid", "phenol", "aniline", "triethylamine", "nitric_acid", "sodium_borohydride")


@pytest.fixture(scope="module")
def inv() -> Inventory:
    reagents = tuple(Reagent(key, "there", 0.0, amount_mmol=1.0) for key in EXTRA)
    setup = Setup(Reaction(reagents), (Target("acetic_acid"),), BOTTLES)
    return build_inventory(setup, tables(), Draws(0, 1))


def amounts(inv: Inventory, **mmol: float) -> np.ndarray:
    found = inv.none()
    for key, n in mmol.items():
        found[inv.index[key]] = n
    return found


def bottle(inv: Inventory, key: str, mL: float) -> np.ndarray:
    return poured(inv, key, mL).total()


def heat(inv: Inventory, *parts: np.ndarray) -> float:
    return float(heat_J(inv, parts)[0])


def warmed(inv: Inventory, *parts: np.ndarray, at: float = 20.0) -> float:
    return float(adiabatic_C(inv, [(p, at) for p in parts])[0])


# NBS tables of 1982 from memory, kJ per mol of what is neutralised in dilute solution.
NEUTRALISED = {
    "strong acid, strong base": ("chloride", "sodium", 55.8, 0.3),
    "acetic acid": ("acetic_acid", "sodium", 56.1, 1.0),
    "phenol": ("phenol", "sodium", 32.5, 3.0),
    "ammonia": ("chloride", "ammonia", 52.2, 0.5),
    "aniline": ("chloride", "aniline", 31.0, 7.0),
}


@pytest.mark.parametrize("name", NEUTRALISED)
def test_neutralisation_gives_what_the_tables_say(inv: Inventory, name: str) -> None:
    acid, base, kJ_mol, within = NEUTRALISED[name]
    one = amounts(inv, water=55_000.0, **{acid: 100.0})
    other = amounts(inv, water=55_000.0, **{base: 100.0})
    # The acid side dilutes a little too.
    assert heat(inv, one, other) / 100.0 == pytest.approx(kJ_mol, abs=within)


# Mol of water per mol of sulfuric acid, and heat in kJ/mol: NBS tables, from memory.
SULFURIC = {1: 28.1, 2: 41.9, 5: 58.0, 10: 67.0, 20: 71.5}
CHLORIDE = {2: 48.8, 3: 56.9, 5: 64.1, 10: 69.5, 20: 71.8}
NITRIC = {1: 13.1, 2: 20.1, 5: 28.7, 10: 31.8}


@pytest.mark.parametrize(("acid", "table", "within"), [
    ("sulfate", SULFURIC, 3.8), ("chloride", CHLORIDE, 2.0), ("nitrate", NITRIC, 2.3)])
def test_diluting_a_strong_acid_gives_what_the_tables_say(
    inv: Inventory, acid: str, table: dict[int, float], within: float
) -> None:
    for water, kJ_mol in table.items():
        mixed = heat(inv, amounts(inv, **{acid: 1000.0}), amounts(inv, water=1000.0 * water))
        assert mixed / 1000.0 == pytest.approx(kJ_mol, abs=within), water


def test_molar_acid_and_base_of_equal_volumes_warm_by_six_or_seven_degrees(inv: Inventory) -> None:
    """The classroom calorimeter: 50 mL of each, 1 mol/L, 6.7 C (textbooks, from memory)."""
    rise = warmed(inv, bottle(inv, "hcl_1m", 50.0), bottle(inv, "naoh_1m", 50.0)) - 20.0
    assert rise == pytest.approx(6.7, abs=0.3)


def test_equal_volumes_of_concentrated_sulfuric_acid_and_water_come_above_100_C(
    inv: Inventory
) -> None:
    """About 120 C (laboratory manuals, from memory)."""
    at = warmed(inv, bottle(inv, "h2so4_conc", 50.0), bottle(inv, "water", 50.0))
    assert 105.0 < at < 140.0


def test_the_order_of_pouring_decides_how_hot_it_gets_on_the_way(inv: Inventory) -> None:
    acid, water = bottle(inv, "h2so4_conc", 10.0), bottle(inv, "water", 100.0)
    right = float(hottest_C(inv, (water, 20.0), (acid, 20.0))[0])
    wrong = float(hottest_C(inv, (acid, 20.0), (water, 20.0))[0])
    assert right < 50.0
    assert wrong > 110.0


def test_ice_that_takes_up_a_nitration_poured_on_it(inv: Inventory) -> None:
    """10 mL of concentrated sulfuric acid and 90 g of water: 62 kJ/mol of 0.18 mol, 33 g."""
    warm = heat(inv, bottle(inv, "h2so4_conc", 10.0), bottle(inv, "water", 90.0))
    assert float(ice_g(warm)) == pytest.approx(33.0, rel=0.1)
    assert float(ice_g(-5.0)) == 0.0


def test_bicarbonate_and_acid_hardly_warm(inv: Inventory) -> None:
    """H+ + HCO3- gives 9 kJ/mol while the gas stays dissolved; the gas takes 20."""
    rise = warmed(inv, bottle(inv, "hcl_1m", 50.0), bottle(inv, "nahco3_5pct", 50.0)) - 20.0
    assert 0.0 < rise < 1.5


def test_borohydride_in_acid_gives_its_263_kJ(inv: Inventory) -> None:
    there = amounts(inv, water=55_000.0, sodium=10.0, borohydride=10.0)
    acid = amounts(inv, water=5_000.0, chloride=20.0)
    assert heat(inv, there, acid) == pytest.approx(2630.0, rel=0.05)


def test_nothing_is_set_free_where_nothing_new_meets(inv: Inventory) -> None:
    for key in BOTTLES:
        half, other = bottle(inv, key, 10.0), bottle(inv, key, 30.0)
        assert abs(heat(inv, half, other)) < 1e-6 * abs(float(enthalpy_J(inv, other)[0])) + 1e-6
        assert warmed(inv, half, other) == pytest.approx(20.0, abs=1e-6)


@pytest.mark.parametrize("one", BOTTLES)
def test_what_is_worked_out_faster_is_an_upper_bound(inv: Inventory, one: str) -> None:
    for other in BOTTLES:
        for mL in (5.0, 50.0):
            parts = [(bottle(inv, one, 20.0), 20.0), (bottle(inv, other, mL), 35.0)]
            assert at_most_C(inv, parts)[0] >= adiabatic_C(inv, parts)[0] - 0.5
