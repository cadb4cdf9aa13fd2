"""The small things of the bench that a plan may say, each against a sum done by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import (
    INTERFACES,
    RECEIVERS,
    Add,
    Dry,
    Extract,
    Filter,
    Plan,
    Rinse,
    Separate,
    Stand,
    Step,
)
from workups.chemistry.practice import PRACTICE
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target

FLASK = "reaction flask"
SETUP = Setup(
    Reaction((Reagent("hexyl_acetate", "product", 0, mass_g=2.0),)), (Target("hexyl_acetate"),),
    ("water", "diethyl_ether", "brine", "magnesium_sulfate"))
FIRST = (
    Add(id="water", flask=FLASK, material="water", volume_mL=40.0),
    Extract(id="extract", flask=FLASK, material="diethyl_ether", volume_mL=30.0, portions=2,
            keep="upper", keep_in="ether", other_in="lower"))


def run_of(*steps: Step) -> Run:
    return simulate(Plan(steps), SETUP, Draws(1, 1, 0))


def amount(run: Run, flask: str, key: str = "hexyl_acetate") -> float:
    return float(run.end.flasks[flask].total()[run.inventory.index[key], 0])


def water_g(run: Run, flask: str) -> float:
    return amount(run, flask, "water") * 18.015e-3


def film(run: Run) -> float:
    return float(run.end.films[FLASK][run.inventory.index["hexyl_acetate"], 0])


def test_rinsing_the_flask_with_the_first_portion_brings_its_film_along() -> None:
    """Of a film h the share h/(h + r) stays, r half of the portion: 0.4/(0.4 + 15) = 2.6 %."""
    plain = run_of(*FIRST)
    rinsed = run_of(FIRST[0], replace(FIRST[1], rinse_flask=True))
    h = PRACTICE["film_mL"].value
    assert film(rinsed) == pytest.approx(film(plain) * h / (h + 15.0), rel=0.02)
    gained = amount(rinsed, "ether") - amount(plain, "ether")
    assert gained == pytest.approx(film(plain) - film(rinsed), rel=0.02)


def test_a_rinse_of_its_own_does_the_same_with_solvent_on_top() -> None:
    apart = run_of(*FIRST, Rinse(id="rinse", flask=FLASK, material="diethyl_ether",
                                 volume_mL=15.0, into="ether"))
    h = PRACTICE["film_mL"].value
    assert film(apart) == pytest.approx(film(run_of(*FIRST)) * h / (h + 15.0), rel=0.02)


def test_the_interface_goes_one_way_or_the_other() -> None:
    """With the water layer: 0.15 mL of ether layer each time. With the ether: 0.3 mL of water."""
    lost, kept = (run_of(FIRST[0], replace(FIRST[1], portions=1, interface=way))
                  for way in INTERFACES)
    inv = lost.inventory
    ether_in_water = inv.volume_mL(lost.end.flasks["lower"].organic)[0]
    assert ether_in_water == pytest.approx(PRACTICE["organic_cut_mL"].value, rel=1e-9)
    assert not kept.end.flasks["lower"].organic.any()
    more = (inv.volume_mL(kept.end.flasks["ether"].droplets)
            - inv.volume_mL(lost.end.flasks["ether"].droplets))
    assert more[0] == pytest.approx(PRACTICE["interface_mL"].value, rel=1e-6)


def test_a_wet_receiving_flask_adds_its_water_to_the_load() -> None:
    """0.3 mL of water, 0.30 g, lands in the dried solution."""
    dried = (*FIRST, Dry(id="dry", flask="ether", agent="magnesium_sulfate", mass_g=5.0,
                         endpoint="weighed", minutes=10.0))
    clean, wet = (run_of(*dried, Filter(id="filter", flask="ether", into="vial", receiver=state))
                  for state in RECEIVERS)
    more = water_g(wet, "vial") - water_g(clean, "vial")
    assert more == pytest.approx(PRACTICE["wet_flask_mL"].value * 0.9982, rel=1e-6)


def test_standing_lets_droplets_settle_by_its_law() -> None:
    """A share 0.15 never settles, the rest with 6 min: after 12 min 0.15 + 0.85 exp(-2)."""
    before = run_of(*FIRST)
    after = run_of(*FIRST, Stand(id="stand", flask="ether", minutes=12.0))
    there = before.end.flasks["ether"].droplets.sum()
    left = after.end.flasks["ether"].droplets.sum()
    assert left == pytest.approx(there * (0.15 + 0.85 * np.exp(-2.0)), rel=1e-9)
    assert after.end.flasks["ether"].aqueous.sum() == pytest.approx(there - left, rel=1e-9)


def test_agent_in_portions_stops_at_the_first_that_stays_loose() -> None:
    """Whole portions, enough for the load and the loose rest, and not one more."""
    run = run_of(*FIRST, Dry(id="dry", flask="ether", agent="magnesium_sulfate", mass_g=0.5,
                             endpoint="free-flowing", minutes=10.0))
    drying = run.outcome("dry").facts.drying
    assert drying is not None
    portions = float(drying.mass_g[0]) / 0.5
    assert portions == pytest.approx(round(portions), abs=1e-9)
    assert 0.0 <= float(drying.mass_g[0] - drying.needed_g[0]) < 0.5


def test_separating_again_after_the_interface_leaves_the_water_behind() -> None:
    """Water taken along for the interface's sake comes out at the next separation."""
    kept = (FIRST[0], replace(FIRST[1], interface=INTERFACES[1]))
    once = run_of(*kept)
    twice = run_of(*kept, Separate(id="again", flask="ether", keep="upper", keep_in="ether 2",
                                   other_in="rest", settle_min=30.0))
    assert water_g(twice, "ether 2") < water_g(once, "ether") - 0.4


def test_calcium_chloride_binds_an_alcohol_with_time() -> None:
    """0.5 mol per mol of agent in the end (teaching estimate), with its 4 min: 1 - exp(-t/4)."""
    setup = Setup(
        Reaction((Reagent("1_hexanol", "product", 0, amount_mmol=100.0),)), (Target("1_hexanol"),),
        ("water", "diethyl_ether", "calcium_chloride"))
    bound = {}
    for minutes in (2.0, 200.0):
        run = simulate(Plan((
            Add(id="ether", flask=FLASK, material="diethyl_ether", volume_mL=50.0),
            Dry(id="dry", flask=FLASK, agent="calcium_chloride", mass_g=1.10978,
                endpoint="weighed", minutes=minutes))), setup, Draws(1, 1, 0))
        bound[minutes] = float(run.end.flasks[FLASK].solid[run.inventory.index["1_hexanol"], 0])
    assert bound[200.0] == pytest.approx(5.0, rel=1e-3)
    assert bound[2.0] / bound[200.0] == pytest.approx(1.0 - np.exp(-2.0 / 4.0), rel=1e-3)
