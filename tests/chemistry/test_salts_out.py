"""Salts come out of an organic liquid without water, are filtered off and washed."""

from __future__ import annotations

import numpy as np
import pytest

from tests.chemistry.comparison import disagreements
from tests.chemistry.conserved import conservation_error
from workups.chemistry.draws import Draws
from workups.chemistry.plan import (
    START_FLASK,
    Add,
    Collect,
    Cool,
    Filter,
    Plan,
    Step,
    Strip,
    Weigh,
)
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target

PRODUCT = "ethyl_benzoate"
COOL = Cool(id="cool", flask=START_FLASK, to_C=20.0)
SALT_OFF = Collect(id="off", flask=START_FLASK, into="salt", filtrate_in="filtrate",
                   wash_with="ethyl_acetate", wash_mL=10.0, washes=2, air_dry_min=1000.0)


def acylation(solvent: str = "ethyl_acetate", **more: float) -> Setup:
    """20 mmol of an ester with 20 mmol of triethylammonium chloride and 2 mmol of the amine."""
    mmol = {PRODUCT: 20.0, "triethylamine": 22.0, "hydrogen_chloride": 20.0, **more}
    reagents = tuple(Reagent(key, "there", 0.0, amount_mmol=n) for key, n in mmol.items())
    return Setup(Reaction((*reagents, Reagent(solvent, "solvent", 0.0, volume_mL=50.0))),
                 (Target(PRODUCT),), ("water", "ethyl_acetate", solvent), start_phase="organic")


def run_of(setup: Setup, *steps: Step) -> Run:
    assert disagreements(Plan(steps), setup) == []
    run = simulate(Plan(steps), setup, Draws(1, 3))
    assert conservation_error(run.end) < 1e-9
    return run


def solid(run: Run, key: str, flask: str = START_FLASK) -> float:
    return float(run.end.flasks[flask].solid[run.inventory.index[key], 0])


def test_triethylammonium_chloride_is_filtered_off_and_weighed() -> None:
    """20 mmol of 137.65 g/mol: 2.75 g, and the ester is in the filtrate but for what the washed
    cake holds of it: (h/(h + 10 mL))^2 of 2.2 mL."""
    run = run_of(acylation(), COOL, SALT_OFF, Weigh(id="weigh", flask="salt"),
                 Strip(id="strip", flask="filtrate", pressure_mbar=20.0))
    weighed = run.outcome("weigh").facts.weighed_g
    assert weighed is not None
    assert weighed[0] == pytest.approx(2.753, abs=0.02)
    left = run.end.flasks["filtrate"].total()[:, 0]
    assert left[run.inventory.index["chloride"]] == pytest.approx(0.0, abs=1e-9)
    through = run.outcome("off").after.flasks["filtrate"].total()[run.inventory.index[PRODUCT], 0]
    assert through > 0.99 * 20.0


def test_gravity_filtration_keeps_the_salt_on_the_paper_too() -> None:
    run = run_of(acylation(), COOL, Filter(id="f", flask=START_FLASK, into="filtrate"))
    assert solid(run, "chloride") == pytest.approx(20.0)
    assert run.end.flasks["filtrate"].total()[run.inventory.index["chloride"], 0] < 1e-9


@pytest.mark.parametrize(("salt", "ions"), [
    ("lithium_chloride", {"lithium": 5.0, "chloride": 5.0}),
    ("calcium_chloride", {"calcium": 5.0, "chloride": 10.0}),
    ("sodium_benzoate", {"sodium": 5.0, "benzoic_acid": 5.0})])
def test_inorganic_salts_and_soaps_are_solid_in_toluene(
    salt: str, ions: dict[str, float]
) -> None:
    setup = Setup(Reaction((Reagent(salt, "salt", 0.0, amount_mmol=5.0),
                            Reagent(PRODUCT, "product", 0.0, amount_mmol=20.0),
                            Reagent("toluene", "solvent", 0.0, volume_mL=50.0))),
                  (Target(PRODUCT),), ("water", "toluene"), start_phase="organic")
    run = run_of(setup, COOL)
    assert {k: solid(run, k) for k in ions} == pytest.approx(ions)


def test_water_takes_the_salt_up_again() -> None:
    run = run_of(acylation(), COOL,
                 Add(id="water", flask=START_FLASK, material="water", volume_mL=30.0))
    assert solid(run, "chloride") == 0.0


@pytest.mark.parametrize("setup", [
    acylation("dichloromethane"), acylation(water=5000.0), acylation(ethanol=500.0)],
    ids=["dichloromethane", "free water", "ethanol"])
def test_where_salts_dissolve_none_comes_out(setup: Setup) -> None:
    assert solid(run_of(setup, COOL), "chloride") == 0.0


def test_a_magnesium_halide_stays_dissolved_beside_what_is_left_of_its_reagent() -> None:
    setup = Setup(Reaction((Reagent("methylmagnesium_bromide", "reagent", 0.0, amount_mmol=5.0),
                            Reagent("diethyl_ether", "solvent", 0.0, volume_mL=50.0))),
                  (Target("diethyl_ether"),), ("water", "diethyl_ether"), start_phase="organic")
    assert np.all(run_of(setup, COOL).end.flasks[START_FLASK].solid == 0.0)


def test_a_solvent_on_the_filter_takes_off_what_it_dissolves_of_a_product() -> None:
    """Toluene on benzoic acid: 106 g/L at 25 C (from memory), most of it as dimers. S, K and the
    constant of the dimers together give twice that; water alone would take 2.5 g/L."""
    setup = Setup(Reaction((Reagent("benzoic_acid", "product", 0.0, mass_g=2.0),
                            Reagent("water", "water", 0.0, volume_mL=40.0))),
                  (Target("benzoic_acid"),), ("water", "toluene"), start_phase="aqueous")
    steps = (COOL, Collect(id="c", flask=START_FLASK, into="dish", filtrate_in="filtrate",
                           wash_with="toluene", wash_mL=5.0, washes=1))
    run = run_of(setup, *steps)
    row = run.inventory.index["benzoic_acid"]
    at_the_end = run.end.flasks["filtrate"].organic + run.end.flasks["dish"].organic
    g_L = float(at_the_end[row, 0]) * 122.12 / 5.0
    assert 106.0 / 2.2 < g_L < 106.0 * 2.2
