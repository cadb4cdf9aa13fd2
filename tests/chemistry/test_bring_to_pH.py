"""Bringing a flask to a pH: how much is poured in, also where the pH cannot be had."""

from __future__ import annotations

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.facts import Facts
from workups.chemistry.plan import START_FLASK, Adjust, Plan
from workups.chemistry.run import simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.chemistry.state import Flask

ACID_MMOL = 20.0


def brought(material: str, until_pH: float, draws: int = 6) -> tuple[Flask, Facts]:
    """20 mmol of hydrochloric acid and 5 mmol of ammonia in 20 mL of water, brought to a pH."""
    setup = Setup(
        Reaction((Reagent("chloride", "acid", 0.0, amount_mmol=ACID_MMOL),
                  Reagent("ammonia", "base", 0.0, amount_mmol=5.0),
                  Reagent("water", "water", 0.0, volume_mL=20.0))),
        (Target("ammonia"),), ("water", "nahco3_5pct", "naoh_1m", "hcl_1m", "brine"),
        start_phase="aqueous")
    step = Adjust(id="to pH", flask=START_FLASK, material=material, until_pH=until_pH)
    run = simulate(Plan((step,)), setup, Draws(1, draws))
    return run.end.flasks[START_FLASK], run.outcomes[0].facts


def test_hydroxide_reaches_the_pH() -> None:
    flask, facts = brought("naoh_1m", 10.0)
    assert flask.pH == pytest.approx(10.0, abs=1e-6)
    assert facts.problems == ()


def test_hydrogencarbonate_stops_near_7_and_the_step_says_so() -> None:
    """pH = 6.35 + log([HCO3-]/[CO2]), [HCO3-] below 0.6 and [CO2] at most 0.033 mol/L."""
    flask, facts = brought("nahco3_5pct", 9.0)
    assert facts.problems == ("pH not reached",)
    assert flask.pH is not None
    assert (flask.pH > 6.5).all()
    assert (flask.pH < 7.5).all()


def test_it_is_poured_until_more_does_little_and_not_for_ever() -> None:
    flask, facts = brought("nahco3_5pct", 9.0)
    assert facts.gas_mmol is not None
    assert facts.gas_mmol[0] > 10.0
    assert 40.0 < float(flask.aqueous[0, 0]) * 0.018 < 150.0


@pytest.mark.parametrize(("material", "until_pH"), [("hcl_1m", 9.0), ("brine", 9.0)])
def test_what_leads_the_wrong_way_is_not_poured(material: str, until_pH: float) -> None:
    flask, facts = brought(material, until_pH)
    assert facts.problems == ("pH not reached",)
    assert float(flask.aqueous[0, 0]) * 0.018 == pytest.approx(20.0, abs=0.2)


def test_each_draw_pours_by_its_own_constants() -> None:
    many, _ = brought("nahco3_5pct", 9.0, draws=6)
    few, _ = brought("nahco3_5pct", 9.0, draws=3)
    assert (many.aqueous[:, :3] == few.aqueous).all()
