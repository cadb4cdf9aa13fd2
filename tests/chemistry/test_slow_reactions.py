"""Slow reactions while a flask is stirred or stands, against the first-order law by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Add, Adjust, Extract, Plan, Stand, Step, Wash
from workups.chemistry.quantity import Quantity
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, SlowReaction, Target
from workups.documents import library_exercise

from .comparison import disagreements

FLASK = "reaction flask"
RATE = Quantity(0.10, "L/(mol s)", 0.0, "made up for the test", "P")


def exercise(kind: str, mmol: float = 0.5, solvent: bool = False) -> Setup:
    """A little methyl benzoate, which all dissolves in the water it meets."""
    return Setup(
        Reaction((Reagent("methyl_benzoate", "ester", 0, amount_mmol=mmol),)),
        (Target("methyl_benzoate"),),
        ("water", "naoh_1m", "hcl_1m", *(("diethyl_ether",) if solvent else ())),
        start_phase="aqueous",
        slow_reactions=(SlowReaction("methyl_benzoate", kind, RATE,
                                     {"benzoic_acid": 1.0, "methanol": 1.0, "water": -1.0}),))


def ester(run: Run) -> float:
    row = run.inventory.index["methyl_benzoate"]
    return float(run.end.everything()[row, 0])


def run_of(setup: Setup, *steps: Step) -> Run:
    return simulate(Plan(steps), setup, Draws(1, 1, 0))


def water(mL: float = 90.0) -> Add:
    return Add(id="water", flask=FLASK, material="water", volume_mL=mL)


def base(mL: float = 10.0) -> Add:
    return Add(id="base", flask=FLASK, material="naoh_1m", volume_mL=mL)


def test_two_minutes_after_pouring_base_the_law_is_obeyed() -> None:
    """0.1 mol/L of hydroxide for 2 min: exp(-0.10 x 0.1 x 120) = 0.301 is left."""
    left = ester(run_of(exercise("base"), water(), base())) / 0.5
    assert left == pytest.approx(math.exp(-0.10 * 0.1 * 120.0), rel=0.02)


def test_standing_goes_on_for_as_long_as_it_stands() -> None:
    """Ten minutes more: exp(-6.0) of what was there, the hydroxide a little less by then."""
    short = ester(run_of(exercise("base"), water(), base()))
    long = ester(run_of(exercise("base"), water(), base(),
                        Stand(id="stand", flask=FLASK, minutes=10.0)))
    assert long / short == pytest.approx(math.exp(-0.10 * 0.097 * 600.0), rel=0.15)


def test_hydroxide_is_used_up_mole_for_mole() -> None:
    """0.2 mmol of base cannot cleave more than 0.2 of 0.5 mmol, however long it stands."""
    left = ester(run_of(exercise("base"), water(), base(0.2),
                        *(Stand(id=f"s{i}", flask=FLASK, minutes=1000.0) for i in range(3))))
    assert left >= 0.5 - 0.2 * 1.001


def test_acid_goes_on_too_and_neutral_water_does_nothing() -> None:
    kept = ester(run_of(exercise("acid"), water(), Stand(id="s", flask=FLASK, minutes=60.0)))
    assert kept == pytest.approx(0.5, rel=1e-3)
    lost = ester(run_of(exercise("acid"), water(), Adjust(
        id="acid", flask=FLASK, material="hcl_1m", until_pH=1.5)))
    assert lost / 0.5 == pytest.approx(math.exp(-0.10 * 10.0**-1.5 * 600.0), rel=0.03)


@pytest.mark.parametrize("kind", ["base", "acid"])
def test_the_scalar_simulation_agrees(kind: str) -> None:
    material = {"base": "naoh_1m", "acid": "hcl_1m"}[kind]
    plan = Plan((
        Add(id="solvent", flask=FLASK, material="diethyl_ether", volume_mL=20.0),
        Add(id="reagent", flask=FLASK, material=material, volume_mL=20.0),
        Stand(id="stand", flask=FLASK, minutes=20.0),
        Extract(id="out", flask=FLASK, material="diethyl_ether", volume_mL=10.0, keep="upper",
                keep_in="A", other_in="B"),
        Adjust(id="other", flask="B", until_pH=7.0,
               material={"base": "hcl_1m", "acid": "naoh_1m"}[kind]),
        Stand(id="later", flask="B", minutes=5.0)))
    assert disagreements(plan, exercise(kind, 10.0, solvent=True)) == []


@pytest.mark.parametrize("bottle", ["hcl_1m", "nahco3_5pct", "water", "brine"])
def test_a_reaction_takes_up_no_more_water_than_there_is(bottle: str) -> None:
    """A tenth of a mL, 5.5 mmol, beside 10 mmol of a ketal that takes one water each."""
    exercise = library_exercise("slow-to-leave")
    plan = exercise.model_plan
    wash = next(s for s in plan.steps if isinstance(s, Wash))
    drop = plan.replacing(replace(wash, material=bottle, volume_mL=0.1))
    run = simulate(drop, exercise.setup, Draws(1, 200))
    assert all(flask.total().min() > -1e-6 for flask in run.end.flasks.values())


# What is assumed of a product by its class, where the exercise states nothing.

def silent(key: str) -> Setup:
    """So little of a product that all dissolves in the water, and no rate typed."""
    return Setup(Reaction((Reagent(key, "product", 0, amount_mmol=0.01),)), (Target(key),),
                 ("water", "naoh_1m", "hcl_1m"), start_phase="aqueous")


def lost(setup: Setup, bottle: str, draws: int = 1) -> np.ndarray:
    """Share of the product that two minutes in 0.1 mol/L of acid or base take."""
    acid = Add(id="reagent", flask=FLASK, material=bottle, volume_mL=10.0)
    run = simulate(Plan((water(), acid)), setup, Draws(1, draws, 0))
    row = run.inventory.index[setup.targets[0].substance]
    return 1.0 - run.end.everything()[row] / 0.01


@pytest.mark.parametrize(("key", "bottle", "k"), [
    ("methyl_benzoate", "naoh_1m", 10.0**-1.5), ("methyl_benzoate", "hcl_1m", 10.0**-4.0),
    ("4_phenylcyclohexanone_ethylene_ketal", "hcl_1m", 10.0**-0.5)])
def test_a_product_of_a_known_class_is_cleaved_without_anybody_typing_a_rate(
    key: str, bottle: str, k: float
) -> None:
    assert lost(silent(key), bottle)[0] == pytest.approx(-math.expm1(-k * 0.1 * 120.0), rel=0.05)


def test_the_band_of_an_assumed_rate_is_wide() -> None:
    """0.7 in log10 k: a factor of 14 between the 5th and the 50th percentile."""
    low, middle = np.percentile(lost(silent("methyl_benzoate"), "naoh_1m", 400), [5, 50])
    assert low < 0.12 * middle


@pytest.mark.parametrize("key", ["methyl_salicylate", "acetophenone", "naphthalene"])
def test_nothing_is_assumed_of_what_is_ionised_or_of_no_such_class(key: str) -> None:
    assert silent(key).reactions == ()


def test_a_stated_rate_replaces_the_assumed_one() -> None:
    kinds = [(r.kind, type(r).__name__) for r in exercise("base").reactions]
    assert kinds == [("base", "SlowReaction"), ("acid", "AssumedReaction")]
