"""Borohydride that has not met water yet: whatever a plan does first, it can be carried out."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.chemistry.conserved import conservation_error
from workups.chemistry import plan as p
from workups.chemistry.draws import Draws
from workups.chemistry.plan import START_FLASK, Plan, Step
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Reaction, Reagent, Setup, Target
from workups.documents import check_plan, library_exercise, library_names

from ..long import count
from .comparison import disagreements

SOLVENT = "mtbe"
FLASK, MMOL = START_FLASK, 3.0


def bench() -> Setup:
    """3 mmol of borohydride beside an alcohol in 40 mL of dry MTBE."""
    return Setup(
        Reaction((Reagent("4_methoxybenzyl_alcohol", "product", 0, mass_g=2.0),
                  Reagent("sodium_borohydride", "reagent", 0, amount_mmol=MMOL),
                  Reagent(SOLVENT, "solvent", 0, volume_mL=40.0))),
        (Target("4_methoxybenzyl_alcohol"),),
        (SOLVENT, "water", "brine", "nh4cl_sat", "hcl_1m", "naoh_1m", "sodium_sulfate"))


def water(mL: float, flask: str = FLASK) -> p.Add:
    return p.Add(id=f"water-{flask}-{mL}", flask=flask, material="water", volume_mL=mL)


def parted(name: str, material: str, flask: str = FLASK, into: str = "organic") -> p.Wash:
    return p.Wash(id=name, flask=flask, material=material, volume_mL=20.0, keep="upper",
                  keep_in=into, other_in=f"{name}-water")


BEFORE: dict[str, tuple[Step, ...]] = {
    "more solvent": (p.Add(id="a", flask=FLASK, material=SOLVENT, volume_mL=10.0),),
    "shaken with solvent": (parted("a", SOLVENT, into=FLASK),),
    "separated": (p.Separate(id="a", flask=FLASK, keep="upper", keep_in=FLASK, other_in="b"),),
    "poured over": (p.Transfer(id="a", flask=FLASK, into="b", rinse_with=SOLVENT, rinse_mL=5.0,
                               rinses=1), p.Transfer(id="c", flask="b", into=FLASK)),
    "poured onto water": (water(5.0, "b"), p.Combine(id="a", flasks=("b",), into=FLASK)),
    "evaporated": (p.Strip(id="a", flask=FLASK, bath_C=40.0, pressure_mbar=50.0),),
    "dried": (p.Dry(id="a", flask=FLASK, agent="sodium_sulfate", mass_g=1.0),
              p.Filter(id="b", flask=FLASK, into=FLASK)),
    "filtered dry": (p.Collect(id="a", flask=FLASK, into="c", filtrate_in=FLASK),),
    "brought to a pH": (p.Adjust(id="a", flask=FLASK, material="hcl_1m", until_pH=6.0),),
    "a drop of water": (water(0.1),),
}


def run_of(*steps: Step) -> Run:
    return simulate(Plan(steps), bench(), Draws(1, 1))


def in_flask(run: Run, key: str, flask: str = FLASK) -> float:
    return float(run.end.flasks[flask].total()[run.inventory.index[key], 0])


@pytest.mark.parametrize("name", BEFORE)
def test_any_step_may_come_before_the_quench_and_the_scalar_simulation_agrees(name: str) -> None:
    steps = (*BEFORE[name], p.Quench(id="quench", flask=FLASK, material="nh4cl_sat",
                                     volume_mL=30.0), parted("wash", "brine"))
    assert disagreements(Plan(steps), bench()) == []


@pytest.mark.parametrize("name", BEFORE)
def test_the_quench_may_be_left_out_altogether(name: str) -> None:
    assert disagreements(Plan((*BEFORE[name], parted("wash", "brine"))), bench()) == []


def test_no_gas_comes_before_water_does_and_all_of_it_then() -> None:
    """4 mol of hydrogen per mol; shaking with more solvent makes none."""
    run = run_of(parted("dry", SOLVENT, into=FLASK), water(20.0))
    dry, wet = (o.facts.gas_mmol for o in run.outcomes)
    assert dry is not None
    assert wet is not None
    assert float(dry[0]) == 0.0
    left = in_flask(run, "borate")
    assert float(wet[0]) == pytest.approx(4.0 * left, rel=1e-9)
    assert left == pytest.approx(MMOL, rel=0.05)


def test_a_drop_of_water_takes_a_third_of_its_moles() -> None:
    """0.05 mL is 2.77 mmol of water (0.998 g/mL): 0.924 mmol of 3 react, no water stays."""
    run = run_of(water(0.05))
    reacted = 0.05 * 0.998 / 18.015 * 1e3 / 3.0
    assert in_flask(run, "borate") == pytest.approx(reacted, rel=2e-3)
    assert in_flask(run, "borohydride") == pytest.approx(MMOL - reacted, rel=2e-3)
    assert in_flask(run, "water") == pytest.approx(0.0, abs=1e-9)


def test_dry_solvent_brought_to_a_pH_gets_a_water_layer_first() -> None:
    run = run_of(p.Adjust(id="a", flask=FLASK, material="hcl_1m", until_pH=3.0))
    pH = run.end.flasks[FLASK].pH
    assert pH is not None
    assert float(pH[0]) == pytest.approx(3.0, abs=1e-6)
    assert run.outcomes[0].facts.problems == ()
    assert in_flask(run, "borohydride") == 0.0


def shuffled(plan: Plan, more: list[Step], dice: random.Random) -> Plan:
    """Steps put in, taken out and moved; what cannot be written down is left out."""
    steps = list(plan.steps)
    for step in dice.sample(more, min(len(more), dice.randint(1, 4))):
        steps.insert(dice.randint(0, min(4, len(steps))), step)
    for _ in range(dice.randint(1, 4)):
        step = steps.pop(dice.randrange(len(steps)))
        if dice.random() < 0.6:
            steps.insert(dice.randint(0, len(steps)), step)
    if dice.random() < 0.2:
        dice.shuffle(steps)
    return Plan(tuple(steps))


def carried_out(plan: Plan, setup: Setup) -> None:
    run = simulate(plan, setup, Draws(1, 3))
    for outcome in run.outcomes:
        state = outcome.after
        assert conservation_error(state) <= 1e-9, outcome.step
        for amounts in (*(f.total() for f in state.flasks.values()), *state.films.values(),
                        *state.waste.values(), state.air):
            assert np.isfinite(amounts).all(), outcome.step
            assert amounts.min() >= -1e-9, outcome.step


@settings(max_examples=count(60, 1000), deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_steps_in_any_order_are_carried_out(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311 (a test's dice, no secret)
    usual = Plan((p.Quench(id="quench", flask=FLASK, material="nh4cl_sat", volume_mL=30.0),
                  parted("wash", "brine"),
                  p.Dry(id="dry", flask="organic", agent="sodium_sulfate", mass_g=1.0),
                  p.Filter(id="filter", flask="organic", into="pot"),
                  p.Strip(id="strip", flask="pot"), p.Weigh(id="weigh", flask="pot")))
    more = [p.Stand(id="stand", flask=FLASK, minutes=30.0), water(0.5), water(10.0, "b"),
            *(step for steps in BEFORE.values() for step in steps[:1] if step.id == "a")]
    named = [replace(s, id=f"more-{i}") for i, s in enumerate(more)]
    plan = shuffled(usual, named, dice)
    flasks, kept = {FLASK}, []
    for step in plan.steps:
        sources = set(getattr(step, "flasks", ())) | {getattr(step, "flask", FLASK)}
        if isinstance(step, p.Add) or sources <= flasks:
            kept.append(step)
            flasks |= {getattr(step, n) for n in ("flask", "keep_in", "other_in", "into",
                                                  "filtrate_in") if hasattr(step, n)}
    carried_out(Plan(tuple(kept)), bench())


@pytest.mark.parametrize("key", library_names())
def test_library_plans_in_any_order_are_carried_out(key: str) -> None:
    """Steps moved or left out, the quench among them."""
    exercise = library_exercise(key)
    for seed in range(count(4, 100)):
        dice = random.Random(f"{key} {seed}")  # noqa: S311 (a test's dice, no secret)
        plan = shuffled(dice.choice((exercise.model_plan, *exercise.alternatives)), [], dice)
        while wrong := {said.step_id for said in check_plan(plan, exercise)}:
            plan = plan.without(*wrong)
        carried_out(plan, exercise.setup)
