"""A layer that is all product: it carries droplets at parting and wets the paper like any other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Extract, Filter, Plan, Step, Wash
from workups.chemistry.practice import PRACTICE
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.chemistry.tables import tables

BROMIDE = "1_bromobutane"
SETUP = Setup(
    Reaction((Reagent(BROMIDE, "product", 0, mass_g=12.7),)), (Target(BROMIDE),),
    ("water", "hcl_1m", "nahco3_5pct", "brine", "diethyl_ether"))
DENSITY = tables().substances[BROMIDE].values["density"].value
# What is shaken has left a film on the glass of the flask it was in.
DROPS_ML = PRACTICE["neat_droplets_uL_mL"].value * 1e-3 * (
    12.7 / DENSITY - PRACTICE["film_mL"].value)


def sinks(liquid: str) -> bool:
    return tables().substances[liquid].values["density"].value > 1.0


def run_of(*steps: Step) -> Run:
    return simulate(Plan(steps), SETUP, Draws(1, 1))


def washed(material: str = "water", settle_min: float = 0.0) -> Wash:
    return Wash(id="wash", flask=START_FLASK, material=material, volume_mL=20.0, keep="lower",
                keep_in="bromide", other_in="washings", settle_min=settle_min)


def mmol(run: Run, flask: str, key: str) -> float:
    return float(run.end.flasks[flask].total()[run.inventory.index[key], 0])


def in_drops(run: Run, key: str) -> float:
    return float(run.end.flasks["bromide"].droplets[run.inventory.index[key], 0])


def test_a_neat_layer_carries_water_droplets_off() -> None:
    """5 uL per mL of the 10 mL of bromide, right after the shake: 50 uL of water."""
    assert in_drops(run_of(washed()), "water") * 18.015e-3 == pytest.approx(DROPS_ML, rel=0.02)


@pytest.mark.parametrize(("material", "carried", "mmol_per_mL"), [
    ("hcl_1m", "chloride", 1.0), ("nahco3_5pct", "carbon_dioxide", 0.61), ("brine", "sodium", 5.4)])
def test_what_the_water_holds_comes_along_in_them(
    material: str, carried: str, mmol_per_mL: float
) -> None:
    """Acid, carbonate (gas with the next acid) and salt, as much as 50 uL of the bottle hold."""
    run = run_of(washed(material))
    clearing = PRACTICE["brine_clearing"].value if material == "brine" else 1.0
    assert in_drops(run, carried) == pytest.approx(DROPS_ML * clearing * mmol_per_mL, rel=0.06)


def test_standing_clears_a_neat_layer() -> None:
    soon, late = run_of(washed()), run_of(washed(settle_min=60.0))
    assert mmol(late, "bromide", "water") < 0.2 * mmol(soon, "bromide", "water")


def over(method: str = "gravity", flask: str = START_FLASK) -> Filter:
    return Filter(id="filter", flask=flask, into="vial", method=method)


def test_a_neat_oil_leaves_some_on_the_paper() -> None:
    """0.3 mL, a practice value, beside the film on the glass; decanting uses no paper."""
    paper, none = run_of(over()), run_of(over("decant"))
    lost_mL = (mmol(none, "vial", BROMIDE) - mmol(paper, "vial", BROMIDE)) * 137.02e-3 / DENSITY
    assert lost_mL == pytest.approx(PRACTICE["paper_mL"].value, rel=1e-3)


def test_a_rinse_brings_most_of_it_through() -> None:
    """h/(h + r) = 0.3/3.3 of it stays."""
    rinsed = run_of(replace(over(), rinse_with="diethyl_ether", rinse_mL=3.0, rinses=1))
    stays = mmol(rinsed, START_FLASK, BROMIDE) / mmol(run_of(over()), START_FLASK, BROMIDE)
    assert stays == pytest.approx(0.3 / 3.3, rel=0.05)


def test_a_solution_leaves_as_much_liquid_and_a_smaller_share_of_the_product() -> None:
    shaken = Extract(id="extract", flask=START_FLASK, material="diethyl_ether", volume_mL=90.0,
                     keep="upper", keep_in="ether", other_in="rest")
    run = run_of(shaken, over(flask="ether"))
    assert mmol(run, "ether", BROMIDE) / mmol(run, "vial", BROMIDE) == pytest.approx(
        0.3 / 100.0, rel=0.2)


def test_water_through_paper_leaves_some_too() -> None:
    run = run_of(washed(), over(flask="washings"))
    assert mmol(run, "washings", "water") * 18.015e-3 == pytest.approx(0.3, rel=0.05)


@pytest.mark.parametrize(("liquid", "g_per_L"), [
    ("isopentyl_acetate", 2.0), ("1_bromobutane", 0.87), ("nitrobenzene", 1.9),
    ("anisole", 1.5), ("bromobenzene", 0.45), ("1_hexanol", 5.9), ("benzaldehyde", 6.6),
    ("methyl_benzoate", 2.1)])
def test_a_liquid_shaken_with_water_dissolves_to_its_solubility(
    liquid: str, g_per_L: float
) -> None:
    """Solubility in water at 25 C, CRC Handbook and AqSolDB; in plain water, in every draw.

    The spread between draws is that of the solubility and not of an estimate of log K: 44 mL of
    isopentyl acetate never go into 100 mL of water.
    """
    setup = Setup(Reaction((Reagent(liquid, "product", 0, mass_g=30.0),)), (Target(liquid),),
                  ("water", "diethyl_ether"))
    step = Wash(id="wash", flask=START_FLASK, material="water", volume_mL=100.0,
                keep="lower" if sinks(liquid) else "upper", keep_in="product",
                other_in="washings", settle_min=600.0)
    for count, most in ((1, 1.1), (48, 4.0)):
        run = simulate(Plan((step,)), setup, Draws(3, count))
        dissolved = run.end.flasks["washings"].aqueous[run.inventory.index[liquid]]
        per_litre = dissolved * tables().substances[liquid].molar_mass * 1e-3 / 0.1
        assert g_per_L / most < per_litre.min()
        assert per_litre.max() < most * g_per_L
