"""What must hold of two layers at equilibrium, checked on the result, however it was found."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workups.chemistry.contact import contact
from workups.chemistry.draws import Draws
from workups.chemistry.equilibrium import Split, Surroundings, split_layers
from workups.chemistry.inventory import Inventory, build_inventory
from workups.chemistry.layers import (
    ATMOSPHERE_PA,
    co2_room_Pa,
    molar_gas_volume_mL,
    partition_coefficients,
    water_capacity_mmol,
)
from workups.chemistry.materials import charged, components_per_mL, poured
from workups.chemistry.run import prepare
from workups.chemistry.tables import tables
from workups.chemistry.water import water_activity
from workups.documents import library_exercise

from .mixtures import SOLUTIONS, SOLVENTS, random_setup

DRAWS = 24
OFTEN = settings(max_examples=60, deadline=None, derandomize=True)
SEEDS = st.integers(0, 100_000)
KINDS = ("shut", "open", "solids", "headspace")


def mixture(seed: int) -> tuple[Inventory, np.ndarray]:
    """A random mixture; over the draws the solvent goes from far below to above what dissolves."""
    random = Random(seed)  # noqa: S311 - nothing secret, only the same every time
    setup = random_setup(random)
    inv = build_inventory(setup, tables(), Draws(seed, DRAWS))
    solvent = random.choice([m for m in setup.materials if m in SOLVENTS])
    solution = random.choice([m for m in setup.materials if m in SOLUTIONS])
    water_mL = random.uniform(1.0, 100.0)
    solvent_mL = water_mL * 10.0 ** np.linspace(-3.0, 1.0, DRAWS)
    return inv, (charged(inv, setup) + components_per_mL(inv, solution)[:, None] * water_mL
                 + components_per_mL(inv, solvent)[:, None] * solvent_mL)


def surroundings(kind: str) -> Surroundings:
    headspace = np.full(DRAWS, 120.0) if kind == "headspace" else None
    return Surroundings(kind in ("open", "solids"), headspace, kind == "solids")


def two_layers(inv: Inventory, split: Split) -> np.ndarray:
    """Draws with both layers, none of them tiny."""
    return np.flatnonzero((inv.volume_mL(split.organic) > 0.02)
                          & (split.aqueous[inv.water] > 1.0))


@OFTEN
@given(seed=SEEDS, kind=st.sampled_from(KINDS))
def test_everything_is_somewhere_and_nothing_is_negative(seed: int, kind: str) -> None:
    inv, totals = mixture(seed)
    split = split_layers(inv, totals, surroundings(kind))
    found = split.aqueous + split.organic + split.solid
    if inv.co2 is not None:
        found[inv.co2] += split.headspace_mmol + split.released
    assert found == pytest.approx(totals, rel=1e-12, abs=1e-15)
    for part in (split.aqueous, split.organic, split.solid, split.released):
        assert np.isfinite(part).all()
        assert part.min() >= -1e-15 * totals.max()


@OFTEN
@given(seed=SEEDS, kind=st.sampled_from(KINDS))
def test_the_water_layer_is_electroneutral(seed: int, kind: str) -> None:
    inv, totals = mixture(seed)
    split = split_layers(inv, totals, surroundings(kind))
    here = np.flatnonzero(split.aqueous[inv.water] > 1.0)
    h, volume = np.exp(split.ln_h), inv.volume_mL(split.aqueous)
    charge = inv.strong_mmol(split.aqueous) + volume * (h - 1e-14 / h)
    size = volume * (h + 1e-14 / h) + np.abs(inv.strong_mmol(split.aqueous))
    for acid in inv.acids:
        weights = [np.ones_like(h)]
        for constant in acid.constants:
            weights.append(weights[-1] * constant / h)
        mean = sum((acid.top - j) * w for j, w in enumerate(weights)) / sum(weights)
        charge = charge + mean * split.aqueous[acid.row]
        size = size + np.abs(mean) * split.aqueous[acid.row]
    assert (np.abs(charge) / size)[here] == pytest.approx(0.0, abs=1e-8)


@OFTEN
@given(seed=SEEDS, kind=st.sampled_from(KINDS))
def test_every_neutral_form_stands_in_its_partition_ratio(seed: int, kind: str) -> None:
    inv, totals = mixture(seed)
    split = split_layers(inv, totals, surroundings(kind))
    here = two_layers(inv, split)
    K = partition_coefficients(inv, split.aqueous, split.organic)
    water_mL, organic_mL = inv.volume_mL(split.aqueous), inv.volume_mL(split.organic)
    neutral = {a.row: a.neutral_share(np.exp(split.ln_h)) for a in inv.acids}
    for row in range(len(inv.keys)):
        if row == inv.water:
            continue
        in_water = split.aqueous[row] * neutral.get(row, 1.0) / np.maximum(water_mL, 1e-9)
        expected = (K[row] * in_water * organic_mL)[here]
        floor = 1e-7 * totals[row].max()
        assert split.organic[row][here] == pytest.approx(expected, rel=1e-6, abs=floor)


@OFTEN
@given(seed=SEEDS)
def test_the_organic_layer_holds_water_by_the_activity_of_the_water_layer(seed: int) -> None:
    inv, totals = mixture(seed)
    split = split_layers(inv, totals)
    here = two_layers(inv, split)
    held = water_capacity_mmol(inv, split.organic) * water_activity(inv, split.aqueous)
    assert split.organic[inv.water][here] == pytest.approx(held[here], rel=1e-7, abs=1e-9)


@OFTEN
@given(seed=SEEDS)
def test_carbon_dioxide_in_an_open_flask_is_at_saturation_where_gas_came_off(seed: int) -> None:
    inv, totals = mixture(seed)
    if inv.co2 is None:
        return
    split = split_layers(inv, totals, surroundings("open"))
    gassing = np.intersect1d(np.flatnonzero(split.released > 1e-6), two_layers(inv, split))
    acid = next(a for a in inv.acids if a.row == inv.co2)
    dissolved = (split.aqueous[inv.co2] * acid.neutral_share(np.exp(split.ln_h))
                 / np.maximum(inv.volume_mL(split.aqueous), 1e-9))
    room = co2_room_Pa(inv, split.aqueous, split.organic)
    limit = inv.co2_henry * room / ATMOSPHERE_PA
    assert dissolved[gassing] == pytest.approx(limit[gassing], rel=1e-7)
    quiet = np.intersect1d(np.flatnonzero(split.released == 0.0), two_layers(inv, split))
    assert (dissolved[quiet] <= limit[quiet] * (1.0 + 1e-7)).all()


@OFTEN
@given(seed=SEEDS)
def test_a_closed_headspace_holds_carbon_dioxide_by_henrys_law(seed: int) -> None:
    inv, totals = mixture(seed)
    if inv.co2 is None:
        return
    around = surroundings("headspace")
    split = split_layers(inv, totals, around)
    here = two_layers(inv, split)
    acid = next(a for a in inv.acids if a.row == inv.co2)
    dissolved = (split.aqueous[inv.co2] * acid.neutral_share(np.exp(split.ln_h))
                 / np.maximum(inv.volume_mL(split.aqueous), 1e-9))
    pressure_atm = dissolved / inv.co2_henry
    held = pressure_atm * around.headspace_mL / molar_gas_volume_mL(inv.room_C)
    assert split.headspace_mmol[here] == pytest.approx(held[here], rel=1e-7, abs=1e-12)


@OFTEN
@given(seed=SEEDS)
def test_a_solid_comes_out_only_beyond_its_solubility(seed: int) -> None:
    """Where there is solid, the liquids hold S (Vaq/alpha + K Vsolvent); shared out over the whole
    organic layer, the neutral form in the water is at S or, in a crowded layer, below it."""
    inv, totals = mixture(seed)
    split = split_layers(inv, totals, surroundings("solids"))
    here = two_layers(inv, split)
    neutral = {a.row: a.neutral_share(np.exp(split.ln_h)) for a in inv.acids}
    water_mL = np.maximum(inv.volume_mL(split.aqueous), 1e-9)
    organic_mL = inv.volume_mL(split.organic)
    rows = inv.solvent_rows
    solvent_mL = (split.organic[rows] * inv.molar_volume[rows][:, None]).sum(axis=0)
    K = partition_coefficients(inv, split.aqueous, split.organic)
    for row in inv.precipitating:
        share = neutral.get(row, np.ones(DRAWS))
        in_water = split.aqueous[row] * share / water_mL
        assert (in_water[here] <= inv.solubility[row][here] * (1.0 + 1e-6)).all()
        solids = np.intersect1d(np.flatnonzero(split.solid[row] > 1e-6 * totals[row]), here)
        crowded = (water_mL + share * K[row] * solvent_mL) / (
            water_mL + share * K[row] * organic_mL)
        saturated = inv.solubility[row] * crowded
        assert in_water[solids] == pytest.approx(saturated[solids], rel=1e-6)
    assert (np.delete(split.solid, inv.precipitating, axis=0) == 0.0).all()


@OFTEN
@given(seed=SEEDS)
def test_starting_from_the_answer_gives_the_answer(seed: int) -> None:
    inv, totals = mixture(seed)
    once = split_layers(inv, totals)
    again = split_layers(inv, totals, start=once)
    scale = np.maximum(totals, 1e-9)
    assert (np.abs(again.aqueous - once.aqueous) / scale).max() < 1e-8


@OFTEN
@given(seed=SEEDS)
def test_gas_carries_vapours_in_the_ratio_of_their_pressures(seed: int) -> None:
    """n_j = n_CO2 p_j/p_CO2, and all pressures together make one atmosphere."""
    inv, totals = mixture(seed)
    shaken = contact(inv, totals, capacity_mL=500.0)
    if inv.co2 is None or not shaken.gas_mmol.any():
        assert not shaken.escaped.any()
        return
    gassing = np.flatnonzero(shaken.gas_mmol > 1e-6)
    carried = shaken.escaped[:, gassing].sum(axis=0) - shaken.gas_mmol[gassing]
    room = shaken.co2_Pa[gassing]
    most = shaken.gas_mmol[gassing] * (ATMOSPHERE_PA - room) / room
    assert (carried <= most * (1.0 + 1e-9) + 1e-12).all()
    assert (shaken.stoppered_Pa >= ATMOSPHERE_PA).all()


@pytest.mark.parametrize(("material", "mL"), [("hcl_1m", 1.0), ("naoh_1m", 5.0), ("water", 5.0)])
def test_solids_without_solvent_settle_in_one_state_whatever_the_search_begins_with(
    material: str, mL: float
) -> None:
    """Three solids and a little water: a solid makes no organic layer by itself."""
    run = prepare(library_exercise("three-in-one-bottle").setup, Draws(1, 1))
    inv = run.inventory
    totals = run.start.everything() + poured(inv, material, mL).total()
    around = Surroundings(open_air=True, solids=True)
    found = [split_layers(inv, totals, around)]
    for share in (0.0, 0.5, 1.0):
        organic = np.zeros_like(totals)
        organic[inv.precipitating] = share * totals[inv.precipitating]
        start = replace(found[0], aqueous=totals - organic, organic=organic)
        found.append(split_layers(inv, totals, around, start))
    for other in found:
        assert float(other.organic.sum()) == 0.0
        assert other.solid == pytest.approx(found[0].solid, rel=1e-9)
