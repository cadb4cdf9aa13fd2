"""Triturating a solid: what dissolves by its solubility and what is carried off with the liquid.

Worked by hand from S, K and volumes of the tables; the shares held back are (h/V) as for a cake.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.chemistry.conserved import conservation_error
from workups.chemistry.draws import Draws
from workups.chemistry.inventory import partition_quantity
from workups.chemistry.plan import START_FLASK, WASTE, Plan, Triturate
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target

from .mixtures import random_case

FILM_ML = 0.4
SOLID, OIL = "naphthalene", "3_pentanone"


def setup(solid_g: float, oil_g: float) -> Setup:
    """A solid product with an oil on it, and nothing else."""
    reagents = (Reagent(SOLID, "product", 0.0, mass_g=solid_g),
                Reagent(OIL, "impurity", 0.0, mass_g=oil_g))
    return Setup(Reaction(reagents), (Target(SOLID),), ("water", "hexane"), start_phase="organic")


def triturated(setup: Setup, material: str, portions: int = 1, liquid_in: str = "off") -> Run:
    step = Triturate(id="t", flask=START_FLASK, material=material, volume_mL=5.0,
                     portions=portions, liquid_in=liquid_in)
    return simulate(Plan((step,)), setup, Draws(1, 1))


def amount(run: Run, flask: str, phase: str, key: str) -> float:
    """Nominal amount in a phase of a flask [mmol]."""
    return float(getattr(run.end.flasks[flask], phase)[run.inventory.index[key], 0])


def test_a_solid_in_excess_dissolves_up_to_its_solubility_in_the_solvent() -> None:
    """n = S K V, V that of the solvent; S and K as the tables have them."""
    run = triturated(setup(2.0, 0.0), "hexane")
    inv = run.inventory
    row = inv.index[SOLID]
    log10_K = partition_quantity(inv.tables.substances[SOLID], "hexane", inv.setup)
    assert log10_K is not None
    K = 10.0**log10_K.value
    dissolved = amount(run, START_FLASK, "organic", SOLID) + amount(run, "off", "organic", SOLID)
    assert dissolved == pytest.approx(float(inv.solubility[row, 0]) * K * 5.0, rel=1e-6)
    assert amount(run, START_FLASK, "solid", SOLID) == pytest.approx(2.0e3 / 128.174 - dissolved)


def test_an_oil_on_the_solid_leaves_with_each_portion_and_the_solid_stays() -> None:
    """What stays of the oil is what the moist solid and the glass hold of the liquid, each time."""
    one, three = (triturated(setup(2.0, 0.2), "hexane", n) for n in (1, 3))
    there = 0.2e3 / 86.134
    solid_g = amount(one, START_FLASK, "solid", SOLID) * 128.174e-3
    held_mL = 0.8 * solid_g + FILM_ML
    liquid_mL = 5.0 + 0.2 / 0.815 + (2.0 - solid_g) / 1.03
    left = amount(one, START_FLASK, "organic", OIL) / there
    assert left == pytest.approx(held_mL / liquid_mL, rel=0.02)
    assert amount(three, START_FLASK, "organic", OIL) / there < left**2.5
    assert amount(three, START_FLASK, "solid", SOLID) > 0.3 * 2.0e3 / 128.174


def test_water_is_taken_off_an_oil_that_does_not_dissolve_in_it() -> None:
    run = triturated(setup(0.0, 2.0), "water")
    assert amount(run, "off", "organic", OIL) == 0.0
    assert amount(run, START_FLASK, "organic", OIL) > amount(run, "off", "aqueous", OIL) > 0.0


def test_a_solvent_takes_an_oil_along_that_is_no_solid() -> None:
    run = triturated(setup(0.0, 1.0), "hexane")
    assert amount(run, "off", "organic", OIL) > 0.8 * 1.0e3 / 86.134


@pytest.mark.parametrize(("material", "stream"), [
    ("hexane", "non_halogenated"), ("water", "aqueous")])
def test_liquid_that_goes_to_waste_goes_to_the_stream_of_its_solvent(
    material: str, stream: str
) -> None:
    assert set(triturated(setup(2.0, 0.1), material, liquid_in=WASTE).end.waste) == {stream}


@settings(max_examples=15, deadline=None, derandomize=True)
@given(seed=st.integers(0, 100_000))
def test_nothing_is_lost_and_nothing_negative_whatever_is_triturated(seed: int) -> None:
    plan, exercise = random_case(seed, steps=5, adjust=False)
    liquid = next(m for m in exercise.materials if m != "water")
    liquid = liquid if liquid in random_case_liquids(plan) else "water"
    step = Triturate(id="t", flask=START_FLASK, material=liquid, volume_mL=5.0, portions=2,
                     liquid_in="off")
    run = simulate(Plan((*plan.steps, step)), exercise, Draws(seed, 4))
    assert conservation_error(run.end) <= 1e-9
    for flask in run.end.flasks.values():
        assert flask.total().min() >= -1e-12 * float(run.end.put_in.max())
    assert np.isfinite(run.end.everything()).all()


def random_case_liquids(plan: Plan) -> set[str]:
    """Liquids that a plan pours, so that the exercise surely has them."""
    return {use.material for s in plan.steps for use in s.uses() if use.each_mL is not None}
