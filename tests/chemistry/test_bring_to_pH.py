"""Bringing a flask to a pH: how much is poured in, also where the pH cannot be had."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.grading.plans import random_plan
from workups.chemistry.draws import Draws
from workups.chemistry.facts import Facts
from workups.chemistry.plan import START_FLASK, Adjust, Plan
from workups.chemistry.run import prepare, run_as_far, simulate
from workups.chemistry.setup import OwnMaterial, Reaction, Reagent, Setup, Target
from workups.chemistry.state import Flask
from workups.documents import load_exercise

PROCEDURES = Path(__file__).parent.parent / "data" / "procedures"
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


# mmol per mL; the pH by hand: half an equivalent of a weak acid or base at its pKa, or the mean
# of two pKa; what leads there from far off on the other side.
OWN = {
    "citric_acid": {"citric_acid": 0.5},
    "hydrogensulfate": {"potassium": 1.0, "sulfate": 1.0},
    "dihydrogenphosphate": {"sodium": 1.0, "phosphate": 1.0},
    "bisulfite": {"sodium": 1.0, "sulfur_dioxide": 1.0},
    "ammonia": {"ammonia": 2.0},
    "phosphate": {"sodium": 3.0, "phosphate": 1.0},
    "ammonium": {"ammonia": 2.0, "chloride": 2.0},
    "water with salt": {"sodium": 2.0, "chloride": 2.0},
}


def brought_from(
    acid_mmol: float, base_mmol: float, material: str, until_pH: float
) -> tuple[Flask, Facts, float]:
    """Strong acid and base in 20 mL of water, brought to a pH with an own solution; mL poured."""
    setup = Setup(
        Reaction((Reagent("chloride", "acid", 0.0, amount_mmol=acid_mmol),
                  Reagent("sodium", "base", 0.0, amount_mmol=base_mmol),
                  Reagent("water", "water", 0.0, volume_mL=20.0))),
        (Target("chloride"),), ("water",),
        tuple(OwnMaterial(k, k, 1.05, v) for k, v in OWN.items()), start_phase="aqueous")
    step = Adjust(id="to pH", flask=START_FLASK, material=material, until_pH=until_pH)
    run = simulate(Plan((step,)), setup, Draws(1, 4))
    flask, (part, per_mL) = run.end.flasks[START_FLASK], [*OWN[material].items()][-1]
    there = acid_mmol if part == "chloride" else 0.0
    mL = (float(flask.total()[run.inventory.index[part], 0]) - there) / per_mL
    return flask, run.outcomes[0].facts, mL


@pytest.mark.parametrize(("material", "until_pH", "mL"), [
    # 10 mmol of hydroxide: HSO4- gives one proton each: 10 mL to pH 7.
    ("hydrogensulfate", 7.0, 10.0),
    # H2PO4- to pH 7.2 is half HPO4(2-): 20 mmol.
    ("dihydrogenphosphate", 7.2, 20.0),
    # HSO3- to pH 7.2 likewise (pKa2 7.2).
    ("bisulfite", 7.2, 20.0),
    # Citric acid at pH 7 has lost 2.8 protons (pKa3 6.4): 3.57 mmol.
    ("citric_acid", 7.0, 7.14),
    # NH4+ to pH 9.25 is half NH3: 20 mmol.
    ("ammonium", 9.25, 10.0),
])
def test_a_base_is_brought_down_by_whatever_gives_protons(
    material: str, until_pH: float, mL: float
) -> None:
    flask, facts, poured = brought_from(0.0, 10.0, material, until_pH)
    assert facts.problems == ()
    assert flask.pH == pytest.approx(until_pH, abs=1e-6)
    assert poured == pytest.approx(mL, rel=0.03)


@pytest.mark.parametrize(("material", "until_pH", "mL"), [
    # 10 mmol of acid: NH3 to pH 9.25 is half ammonium: 20 mmol.
    ("ammonia", 9.25, 10.0),
    # PO4(3-) to pH 7.2: 1.5 protons each.
    ("phosphate", 7.2, 6.7),
    # H2PO4- at pH 3 has taken up 0.128 protons (pKa 2.168), and 1 mM stays free:
    # 10 = 0.128 V + 0.001 (20 + V).
    ("dihydrogenphosphate", 3.0, 77.4),
])
def test_an_acid_is_brought_up_by_whatever_takes_protons(
    material: str, until_pH: float, mL: float
) -> None:
    flask, facts, poured = brought_from(10.0, 0.0, material, until_pH)
    assert facts.problems == ()
    assert flask.pH == pytest.approx(until_pH, abs=1e-6)
    assert poured == pytest.approx(mL, rel=0.03)


@pytest.mark.parametrize(("acid", "base", "material", "until_pH"), [
    (0.0, 10.0, "phosphate", 3.0),
    (10.0, 0.0, "hydrogensulfate", 9.0),
    (0.0, 10.0, "ammonia", 5.0),
    (10.0, 0.0, "water with salt", 6.0),
    (0.0, 10.0, "water with salt", 4.0),
])
def test_what_leads_away_or_only_dilutes_is_not_poured(
    acid: float, base: float, material: str, until_pH: float
) -> None:
    _, facts, poured = brought_from(acid, base, material, until_pH)
    assert facts.problems == ("pH not reached",)
    assert poured == pytest.approx(0.0, abs=1e-9)



@pytest.mark.parametrize("until_pH", [13.3, 12.9, 12.3, 11.5])
def test_a_flask_that_only_water_brings_towards_a_pH_is_always_carried_out(until_pH: float) -> None:
    """By dilution the volume swung about the right one, nearer by a fifth a round, and was given
    up after sixty: one of 24 draws sufficed."""
    text = (PROCEDURES / "anisole-toluene-calcium-chloride.toml").read_text(encoding="utf-8")
    exercise = load_exercise(text)
    plan = random_plan(exercise, 231)
    at = next(i for i, s in enumerate(plan.steps) if isinstance(s, Adjust))
    step = replace(plan.steps[at], until_pH=until_pH)
    run, stopped = run_as_far(
        prepare(exercise.setup, Draws(1, 24)), Plan((*plan.steps[:at], step)))
    assert stopped is None
    assert run.outcomes[-1].facts.problems in ((), ("pH not reached",))
