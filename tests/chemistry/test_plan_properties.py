"""What must hold of every run, sensible or silly: nothing lost, nothing negative, nothing that
depends on how it was computed."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.chemistry.blocks import in_blocks
from tests.chemistry.conserved import conservation_error
from tests.grading.plans import any_plan, every_exercise
from tests.long import count
from workups.chemistry import plan as p
from workups.chemistry.draws import Draws
from workups.chemistry.drystep import MOST_AGENT_G
from workups.chemistry.plan import START_FLASK, WASTE, Plan
from workups.chemistry.quantity import Quantity
from workups.chemistry.recovery import Stage, curve, recovery
from workups.chemistry.run import Run, continue_run, prepare, simulate
from workups.chemistry.setup import Setup, SlowReaction
from workups.chemistry.state import PHASES, State
from workups.documents import library_exercise

from .mixtures import random_case, scaled

SOME = settings(max_examples=25, deadline=None, derandomize=True)
SEEDS = st.integers(0, 100_000)


def arrays(state: State) -> list[np.ndarray]:
    """Every amount on the bench, in a fixed order."""
    flasks = [getattr(flask, phase) for _, flask in sorted(state.flasks.items())
              for phase in PHASES]
    places = [v for _, v in (*sorted(state.waste.items()), *sorted(state.films.items()))]
    return [*flasks, *places, state.air, state.put_in]


def everything(run: Run) -> np.ndarray:
    """All that a run says of the bench and its shakes, (n, draws) in one array."""
    rows = [a for outcome in run.outcomes for a in arrays(outcome.after)]
    for outcome in run.outcomes:
        for shake in outcome.facts.shakes:
            rows += [f[None] for f in (shake.pH, shake.gas_mmol, shake.stoppered_Pa,
                                       shake.organic_mL, shake.organic_density)]
        if outcome.facts.strip is not None:
            rows += [outcome.facts.strip.left_solvent_g[None]]
        if outcome.facts.weighed_g is not None:
            rows += [outcome.facts.weighed_g[None]]
    return np.concatenate(rows)


@SOME
@given(seed=SEEDS)
def test_after_every_step_everything_is_somewhere(seed: int) -> None:
    """Relative to what was put in of each component 1e-9, for traces 1e-15 of the largest."""
    plan, setup = random_case(seed)
    run = simulate(plan, setup, Draws(seed, 6))
    for outcome in run.outcomes:
        state = outcome.after
        assert conservation_error(state) <= 1e-9, outcome.step
        off = np.abs(state.everything() - state.put_in)
        floor = 1e-15 * np.abs(state.put_in).max(axis=0)
        assert (off <= 1e-9 * np.abs(state.put_in) + floor + 1e-13).all(), outcome.step


@SOME
@given(seed=SEEDS)
def test_the_charge_of_the_ions_adds_up_to_what_was_put_in(seed: int) -> None:
    plan, setup = random_case(seed)
    run = simulate(plan, setup, Draws(seed, 4))
    inv = run.inventory
    for outcome in run.outcomes:
        found = inv.strong_mmol(outcome.after.everything())
        wanted = inv.strong_mmol(outcome.after.put_in)
        size = (np.abs(inv.strong_charge[:, None]) * np.abs(outcome.after.put_in)).sum(axis=0)
        assert (np.abs(found - wanted) <= 1e-9 * size + 1e-12).all()


@SOME
@given(seed=SEEDS)
def test_no_amount_is_negative_and_every_number_is_a_number(seed: int) -> None:
    plan, setup = random_case(seed)
    run = simulate(plan, setup, Draws(seed, 6))
    for outcome in run.outcomes:
        scale = float(outcome.after.put_in.max())
        for amounts in arrays(outcome.after)[:-1]:
            assert np.isfinite(amounts).all(), outcome.step
            assert amounts.min() >= -1e-12 * scale, outcome.step
    assert np.isfinite(everything(run)).all()


def test_no_plan_warns_has_a_negative_layer_or_a_pH_that_no_water_has() -> None:
    """2,000 plans in the long run. Above pH 15.5 there would be 30 mol/L of hydroxide and more.

    Seed 539, always tried, leaves less than a molecule in a flask that is boiled dry and shaken."""
    for seed in (539, *range(count(30, 2000))):
        plan, setup = random_case(seed)
        with np.errstate(all="raise", under="ignore"):
            run = simulate(plan, setup, Draws(seed, 4))
        for outcome in run.outcomes:
            for shake in outcome.facts.shakes:
                where = (seed, outcome.step)
                assert min(shake.organic_mL.min(), shake.aqueous_mL.min()) >= 0, where
                assert -2 < shake.pH.min() <= shake.pH.max() < 15.5, where


@settings(max_examples=8, deadline=None, derandomize=True)
@given(seed=SEEDS)
def test_the_block_size_changes_nothing_to_the_last_bit(seed: int) -> None:
    plan, setup = random_case(seed, steps=8)

    def measure(run: Run) -> np.ndarray:
        return everything(run).T

    whole, sevens, ones = (in_blocks(plan, setup, 5, 19, measure, block=b) for b in (256, 7, 1))
    assert np.array_equal(whole, sevens)
    assert np.array_equal(whole, ones)


@pytest.mark.parametrize("key", ["too-much-vinegar", "three-in-one-bottle", "plain-ether"])
def test_the_block_size_changes_nothing_in_the_library_to_the_last_bit(key: str) -> None:
    exercise = library_exercise(key)

    def measure(run: Run) -> np.ndarray:
        return everything(run).T

    whole, sevens, ones = (
        in_blocks(exercise.model_plan, exercise.setup, 2, 20, measure, block=b)
        for b in (256, 7, 1))
    assert np.array_equal(whole, sevens)
    assert np.array_equal(whole, ones)


@settings(max_examples=8, deadline=None, derandomize=True)
@given(seed=SEEDS, count=st.integers(2, 40))
def test_draw_zero_is_the_same_whatever_the_number_of_draws_and_the_seed(
    seed: int, count: int
) -> None:
    plan, setup = random_case(seed, steps=7)
    alone = everything(simulate(plan, setup, Draws(1, 1)))[:, 0]
    among = everything(simulate(plan, setup, Draws(99, count)))[:, 0]
    assert np.array_equal(alone, among)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(seed=SEEDS, shared=st.integers(0, 9))
def test_taking_over_the_first_steps_of_a_known_run_changes_nothing(
    seed: int, shared: int
) -> None:
    plan, setup = random_case(seed)
    draws = Draws(seed, 3)
    known = simulate(Plan(plan.steps[:shared]), setup, draws)
    continued = continue_run(known, plan)
    fresh = simulate(plan, setup, draws)
    assert np.array_equal(everything(continued), everything(fresh))
    for one, two in zip(continued.outcomes[:shared], known.outcomes, strict=True):
        assert one is two


@settings(max_examples=20, deadline=None, derandomize=True)
@given(seed=SEEDS, factor=st.floats(0.3, 4.0))
def test_everything_scales_with_the_amounts(seed: int, factor: float) -> None:
    """All amounts, volumes and films times a factor: all results times that factor.

    Layers near the smallest one that counts (0.02 mL) are left out, and so is more drying agent
    than anybody pours in: those are amounts of their own.
    """
    plan, setup = random_case(seed, adjust=False)
    small = simulate(plan, setup, Draws(0, 1))
    volumes = [float(v[0]) for o in small.outcomes for s in o.facts.shakes
               for v in (s.organic_mL, s.aqueous_mL)]
    volumes += [float(small.inventory.volume_mL(getattr(f, phase))[0])
                for o in small.outcomes for f in o.after.flasks.values() for phase in PHASES[:3]]
    assume(not any(1e-9 < v < 0.3 for v in volumes))
    agent = [float(o.facts.drying.needed_g[0]) for o in small.outcomes if o.facts.drying]
    assume(not any(g * max(factor, 1.0) > 0.9 * MOST_AGENT_G for g in agent))
    large = simulate(*reversed(scaled(setup, plan, factor)), Draws(0, 1))
    for one, two in zip(arrays(small.end), arrays(large.end), strict=True):
        assert two == pytest.approx(factor * one, rel=1e-6, abs=1e-9)


def with_solute(material: str, K_log10: float) -> tuple[Setup, str]:
    """The ester exercise with one solvent and a partition coefficient of choice; its target,
    which the acid there lets alone."""
    exercise = library_exercise("too-much-vinegar")
    own = Quantity(K_log10, "1", 0.1, "made up for the test", "P")
    never = Quantity(1e-12, "L/(mol s)", 0.0, "made up for the test", "P")
    return replace(
        exercise.setup, materials=("water", material),
        slow_reactions=(SlowReaction("hexyl_acetate", "acid", never, {}),),
        values={**exercise.setup.values, f"log10_K:hexyl_acetate:{material}": own},
    ), "hexyl_acetate"


@settings(max_examples=15, deadline=None, derandomize=True)
@given(K_log10=st.floats(-1.0, 2.5), total_mL=st.floats(60.0, 240.0), keep_total=st.booleans(),
       solvent=st.sampled_from([("mtbe", "upper"), ("toluene", "upper"),
                                ("dichloromethane", "lower"), ("diethyl_ether", "upper")]))
def test_recovery_rises_with_the_number_of_portions(
    K_log10: float, total_mL: float, keep_total: bool, solvent: tuple[str, str]
) -> None:
    material, keep = solvent
    setup, target = with_solute(material, K_log10)
    first = p.Add(id="water", flask=START_FLASK, material="water", volume_mL=40.0)
    step = p.Extract(id="extract", flask=START_FLASK, material=material, volume_mL=total_mL / 2,
                     portions=2, keep=keep, keep_in="organic", other_in="aqueous")
    plan = Plan((first, step))
    run = simulate(plan, setup, Draws(1, 8))
    stage = Stage(1, 1, (step,))
    portions = np.array(curve(run, plan, target, stage, same_total=keep_total))
    assert portions.shape == (6, 8)
    if keep_total:
        # Each portion of a soluble solvent first has to saturate the water: four are enough here.
        portions = portions[:4] if material in ("mtbe", "diethyl_ether") else portions
    assert (np.diff(portions, axis=0) >= -1e-9).all()
    assert (recovery(run, target, stage) <= 1.0 + 1e-12).all()


SILLY = {
    "the water layer is washed": (
        p.Extract(id="a", flask=START_FLASK, material="mtbe", volume_mL=40.0, keep="lower",
                  keep_in="water layer", other_in="organic"),
        p.Wash(id="b", flask="water layer", material="water", volume_mL=20.0, keep="lower",
               keep_in="water layer", other_in=WASTE)),
    "nothing but water is extracted with water": (
        p.Separate(id="a", flask=START_FLASK, keep="lower", keep_in="w", other_in="o"),
        p.Extract(id="b", flask="w", material="water", volume_mL=30.0, portions=3, keep="upper",
                  keep_in="x", other_in="y")),
    "the water layer is dried": (
        p.Separate(id="a", flask=START_FLASK, keep="lower", keep_in="w", other_in="o"),
        p.Dry(id="b", flask="w", agent="magnesium_sulfate", endpoint="free-flowing", mass_g=1.0),
        p.Filter(id="c", flask="w", into="d")),
    "everything is stripped": (
        p.Strip(id="a", flask=START_FLASK, method="distil", bath_C=250.0, hold_min=1e4),
        p.Weigh(id="b", flask=START_FLASK)),
    "everything is thrown away and the work goes on": (
        p.Discard(id="a", flask=START_FLASK),
        p.Wash(id="b", flask=START_FLASK, material="brine", volume_mL=20.0, keep="upper",
               keep_in="o", other_in="w"),
        p.Dry(id="c", flask="o", agent="magnesium_sulfate", mass_g=0.5),
        p.Strip(id="d", flask="o"), p.Weigh(id="e", flask="o")),
    "an empty flask is filtered, rinsed and collected": (
        p.Tare(id="a", flask="e"), p.Filter(id="b", flask="e", into="f"),
        p.Rinse(id="c", flask="e", material="mtbe", volume_mL=2.0, into="f"),
        p.Collect(id="d", flask="f", into="g", filtrate_in=WASTE)),
    "an empty flask is brought to a pH": (
        p.Tare(id="a", flask="e"),
        p.Adjust(id="b", flask="e", material="hcl_1m", until_pH=2.0)),
    "acid is to make the flask basic": (
        p.Adjust(id="a", flask=START_FLASK, material="hcl_1m", until_pH=12.0),),
    "a bottle of ether meets two litres of water": (
        p.Add(id="a", flask=START_FLASK, material="water", volume_mL=2000.0),
        p.Extract(id="b", flask=START_FLASK, material="mtbe", volume_mL=85.0, portions=2,
                  keep="upper", keep_in="o", other_in="w")),
    "a trace of everything": (
        p.Extract(id="a", flask=START_FLASK, material="mtbe", volume_mL=0.1, portions=12,
                  keep="upper", keep_in="o", other_in="w"),),
}


@pytest.mark.parametrize("name", SILLY)
def test_silly_plans_run_to_their_end(name: str) -> None:
    exercise = library_exercise("too-much-vinegar")
    run = simulate(Plan(SILLY[name]), exercise.setup, Draws(1, 30))
    assert len(run.outcomes) == len(SILLY[name])
    for outcome in run.outcomes:
        assert conservation_error(outcome.after) <= 1e-9
    assert np.isfinite(everything(run)).all()


def test_every_run_ends_in_finite_time() -> None:
    """Sixty silly plans with 50 draws each: none takes longer than 20 seconds."""
    for seed in range(2000, 2060):
        plan, setup = random_case(seed)
        begin = time.perf_counter()
        simulate(plan, setup, Draws(seed, 50))
        assert time.perf_counter() - begin < 20.0, seed


def test_an_empty_plan_is_the_start() -> None:
    exercise = library_exercise("too-much-vinegar")
    run = prepare(exercise.setup, Draws(1, 3))
    assert continue_run(run, Plan(())).end is run.start


# What once divided by a layer that had gone (105), put salt into no water (171), or was owed water
# by a reagent in another flask (83, 126).
@pytest.mark.parametrize("seed", [83, 105, 126, 171, *range(1000, count(1006, 1400))])
def test_no_generated_plan_of_any_exercise_leaves_the_numbers(seed: int) -> None:
    """No overflow, no division by nothing, nothing negative: not even a warning."""
    exercise = every_exercise()[seed % len(every_exercise())]
    with np.errstate(divide="raise", over="raise", invalid="raise"):
        simulate(any_plan(exercise, seed), exercise.setup, Draws(seed, 16))
