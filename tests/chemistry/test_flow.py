"""Where the liquid goes, as the steps of a plan say, against where the simulation puts it.

The simulation knows nothing of ``flow``. What does not lead to a vessel can be taken off the bench
without a change in that vessel, to the last bit: for plans at random and for every library plan.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.grading.plans import dice_of, random_step
from workups.chemistry.draws import Draws
from workups.chemistry.flow import Flow, Leading
from workups.chemistry.plan import (
    START_FLASK,
    STEP_KINDS,
    WASTE,
    Add,
    Collect,
    Combine,
    Cool,
    Discard,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Rinse,
    Separate,
    Stand,
    Step,
    Strip,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Setup
from workups.chemistry.state import PHASES, State, empty_flask
from workups.chemistry.step import StepGroup, Use
from workups.chemistry.steps import carry_out
from workups.documents import library_exercise, library_names

from .mixtures import random_case

SOME = settings(max_examples=25, deadline=None, derandomize=True)
SEEDS = st.integers(0, 100_000)
LIBRARY = [(name, at) for name in library_names()
           for at in range(1 + len(library_exercise(name).alternatives))]


def library_plan(name: str, at: int) -> tuple[Plan, Setup]:
    """The model plan of a library exercise (0) or one of its alternatives."""
    exercise = library_exercise(name)
    return (exercise.model_plan, *exercise.alternatives)[at], exercise.setup


def held(state: State, vessel: str) -> np.ndarray:
    """Everything in a flask, phase by phase, or in the waste."""
    if vessel == WASTE:
        return np.asarray([state.waste[s] for s in sorted(state.waste)])
    flask = state.flasks[vessel]
    return np.asarray([getattr(flask, phase) for phase in PHASES])


def carried_on(run: Run, state: State, at: int) -> State:
    """The end, when the steps from a position on start with another bench."""
    for outcome in run.outcomes[at:]:
        state, _ = carry_out(run.inventory, state, outcome.step)
    return state


def without(run: Run, at: int, leading: Leading) -> State:
    """The bench at a position with all flasks emptied, and all glass cleaned, that do not lead
    where ``leading`` does."""
    before, nothing = run.before(at), empty_flask(run.inventory)
    return replace(
        before,
        flasks={k: f if k in leading.flasks else nothing for k, f in before.flasks.items()},
        films={k: f for k, f in before.films.items() if k in leading.films})


def check_that_only_what_leads_there_matters(plan: Plan, run: Run, vessels: Iterable[str]) -> None:
    for vessel in vessels:
        for at, leading in enumerate(Flow(plan).leading_to(vessel)):
            end = carried_on(run, without(run, at, leading), at)
            assert np.array_equal(held(end, vessel), held(run.end, vessel)), (at, vessel)


@settings(SOME, max_examples=15)
@given(seed=SEEDS)
def test_what_does_not_lead_to_a_vessel_makes_no_difference_there(seed: int) -> None:
    plan, setup = random_case(seed, adjust=False)
    run = simulate(plan, setup, Draws(seed, 1))
    check_that_only_what_leads_there_matters(plan, run, run.end.flasks)


@pytest.mark.parametrize("name", library_names())
def test_what_does_not_lead_to_a_vessel_makes_no_difference_in_the_library(name: str) -> None:
    plan, setup = library_plan(name, 0)
    run = simulate(plan, setup, Draws(1, 1))
    check_that_only_what_leads_there_matters(plan, run, run.end.weighed)


@pytest.mark.parametrize(("name", "at"), LIBRARY)
def test_the_start_leads_to_every_weighed_flask_of_the_library(name: str, at: int) -> None:
    plan, _ = library_plan(name, at)
    weighed = {s.flask for s in plan.steps if isinstance(s, Weigh)}
    assert weighed
    for flask in weighed:
        assert START_FLASK in Flow(plan).leads_to(flask)[0]


def check_that_steps_say_what_they_touch(run: Run) -> None:
    """Of a flask that is neither taken nor filled, the simulation changes nothing; waste grows
    and glass gets wet only where the step says so."""
    for i, outcome in enumerate(run.outcomes):
        step, before, after = outcome.step, run.before(i), outcome.after
        touched = {*step.takes(), *step.fills()}
        for name, flask in before.flasks.items():
            assert name in touched or after.flasks[name] is flask, (step, name)
        assert {*after.flasks} - {*before.flasks} <= {*step.brings()}, step
        assert WASTE in touched or before.waste == after.waste, step
        wet = {k for k in after.flasks if after.films.get(k) is not before.films.get(k)}
        assert wet <= {a for a, _ in (*step.pours(), *step.rinses_out())}, step


@SOME
@given(seed=SEEDS)
def test_no_step_puts_anything_where_it_does_not_say_so(seed: int) -> None:
    plan, setup = random_case(seed, steps=12, adjust=False)
    check_that_steps_say_what_they_touch(simulate(plan, setup, Draws(seed, 2)))


@pytest.mark.parametrize("kind", STEP_KINDS.values(), ids=list(STEP_KINDS))
def test_no_kind_of_step_puts_anything_where_it_does_not_say_so(kind: type[Step]) -> None:
    """Each kind twice with fields at random, on flasks that hold something or nothing, and what
    does not lead to a vessel makes no difference there either."""
    exercise = library_exercise("too-much-vinegar")
    begin = (
        Add(id="solvent", flask=START_FLASK, material="mtbe", volume_mL=30.0),
        Separate(id="part", flask=START_FLASK, keep_in="ether", other_in="water"),
        Tare(id="tare", flask="vial"))
    flasks = [START_FLASK, "ether", "water", "vial"]
    for seed in range(2):
        last = random_step(exercise, flasks, dice_of(seed), "last", (kind,))
        plan = Plan((*begin, last, Combine(id="end", flasks=("ether",), into="vial")))
        run = simulate(plan, exercise.setup, Draws(1, 1))
        check_that_steps_say_what_they_touch(run)
        check_that_only_what_leads_there_matters(plan, run, run.end.flasks)


@SOME
@given(seed=SEEDS)
@example(seed=1750)  # A volume next to nothing, by which the film was divided.
def test_a_step_that_empties_leaves_nothing_behind(seed: int) -> None:
    plan, setup = random_case(seed, steps=12, adjust=False)
    run = simulate(plan, setup, Draws(seed, 2))
    for outcome in run.outcomes:
        step = outcome.step
        if step.empties:
            for name in set(step.takes()).difference(step.fills()):
                assert not outcome.after.flasks[name].total().any(), step


@SOME
@given(seed=SEEDS)
def test_a_passive_step_takes_nothing_out_and_puts_nothing_in(seed: int) -> None:
    plan, setup = random_case(seed, steps=12, adjust=False)
    run = simulate(plan, setup, Draws(seed, 2))
    for i, outcome in enumerate(run.outcomes):
        if outcome.step.is_passive:
            assert outcome.step.fills() == outcome.step.uses() == outcome.step.pours() == ()
            for name, flask in run.before(i).flasks.items():
                there, now = flask.total(), outcome.after.flasks[name].total()
                assert np.allclose(there, now) or setup.slow_reactions


SHAKEN = Separate(id="s", flask="A", keep_in="B", other_in="C")


@pytest.mark.parametrize(("step", "takes", "fills", "aside"), [
    (SHAKEN, ("A",), ("B", "C"), ("C",)),
    (replace(SHAKEN, keep_in="A", other_in=WASTE), ("A",), ("A", WASTE), (WASTE,)),
    (Combine(id="s", flasks=("A", "B"), into="A"), ("A", "B"), ("A",), ()),
    (Transfer(id="s", flask="A", into="B"), ("A",), ("B",), ()),
    (Rinse(id="s", flask="A", material="water", volume_mL=1.0, into="B"), ("A",), ("B",), ()),
    (Filter(id="s", flask="A", into="B"), ("A",), ("B",), ()),
    (Collect(id="s", flask="A", into="B", filtrate_in="C"), ("A",), ("B", "C"), ("C",)),
    (Add(id="s", flask="A", material="water", volume_mL=1.0), ("A",), ("A",), ()),
    (Dry(id="s", flask="A", agent="sodium_sulfate"), ("A",), ("A",), ()),
    (Strip(id="s", flask="A"), ("A",), (), ()),
    (Weigh(id="s", flask="A"), ("A",), (), ()),
    (Tare(id="s", flask="A"), (), (), ()),
    (Discard(id="s", flask="A"), ("A",), (WASTE,), (WASTE,)),
    (Label(id="s", flask="A"), ("A",), (), ()),
], ids=lambda value: value.verb if isinstance(value, Step) else "")
def test_a_step_says_what_it_takes_and_fills(
    step: Step, takes: tuple[str, ...], fills: tuple[str, ...], aside: tuple[str, ...]
) -> None:
    assert (step.takes(), step.fills(), step.sets_aside()) == (takes, fills, aside)


@pytest.mark.parametrize(("step", "uses"), [
    (Extract(id="s", flask="A", keep_in="B", other_in="C", material="mtbe", volume_mL=15.0,
             portions=3), (Use("mtbe", 15.0, 3),)),
    (Wash(id="s", flask="A", keep_in="B", other_in="C", material="brine", volume_mL=10.0),
     (Use("brine", 10.0),)),
    (Transfer(id="s", flask="A", into="B"), ()),
    (Transfer(id="s", flask="A", into="B", rinse_with="mtbe", rinse_mL=2.0, rinses=0), ()),
    (Transfer(id="s", flask="A", into="B", rinse_with="mtbe", rinse_mL=2.0, rinses=2),
     (Use("mtbe", 2.0, 2, is_rinse=True),)),
    (Collect(id="s", flask="A", into="B", filtrate_in="C", wash_with="water", wash_mL=5.0,
             washes=2), (Use("water", 5.0, 2, is_rinse=True),)),
    (Dry(id="s", flask="A", agent="sodium_sulfate", mass_g=2.0, endpoint="weighed"),
     (Use("sodium_sulfate", mass_g=2.0),)),
    (Dry(id="s", flask="A", agent="sodium_sulfate", mass_g=2.0), (Use("sodium_sulfate"),)),
    (STEP_KINDS["adjust"](id="s", flask="A", material="hcl_1m", until_pH=2.0),  # type: ignore[call-arg]
     (Use("hcl_1m"),)),
    (Stand(id="s", flask="A"), ()),
], ids=lambda value: value.verb if isinstance(value, Step) else "")
def test_a_step_says_what_it_uses(step: Step, uses: tuple[Use, ...]) -> None:
    assert step.uses() == uses


@pytest.mark.parametrize("kind", STEP_KINDS.values(), ids=list(STEP_KINDS))
def test_every_kind_has_a_group(kind: type[Step]) -> None:
    assert kind.group in StepGroup


def test_what_is_poured_on_is_followed_and_what_is_put_aside_is_not() -> None:
    plan = Plan((
        Separate(id="0", flask=START_FLASK, keep_in="ether", other_in="water"),
        Stand(id="1", flask="water"),
        Transfer(id="2", flask="ether", into="cone"),
        Add(id="3", flask="ether", material="water", volume_mL=5.0),
        Dry(id="4", flask="cone", agent="sodium_sulfate"),
        Filter(id="5", flask="cone", into="vial"),
        Strip(id="6", flask="vial"),
        Discard(id="7", flask="water"),
    ))
    flow = Flow(plan)
    assert [s.id for _, s in flow.after(0, "ether")] == ["2", "4", "5", "6"]
    assert [s.id for _, s in flow.after(0, "water")] == ["1", "7"]
    assert flow.taken_up_later(0, "ether")
    assert not flow.taken_up_later(0, "water")
    assert not flow.taken_up_later(6, "vial")
    assert [flow.first_filled(f) for f in (START_FLASK, "ether", "vial", "no flask")] == [
        0, 0, 5, None]
    assert [flow.source_of(8, f) for f in ("ether", "vial", START_FLASK)] == [3, 5, None]


def test_a_flask_that_only_cools_stands_and_is_poured_away_is_not_taken_up() -> None:
    kinds = (Cool(id="1", flask="C"), Stand(id="2", flask="C"), Label(id="3", flask="C"),
             Tare(id="4", flask="C"), Discard(id="5", flask="C"))
    assert not Flow(Plan((replace(SHAKEN, flask=START_FLASK), *kinds))).taken_up_later(0, "C")
    for step in (Weigh(id="6", flask="C"), Strip(id="6", flask="C"),
                 Combine(id="6", flasks=("B", "C"), into="D")):
        plan = Plan((replace(SHAKEN, flask=START_FLASK), *kinds[:4], step))
        assert Flow(plan).taken_up_later(0, "C"), step


def test_a_film_leads_on_only_where_the_glass_is_rinsed() -> None:
    plan = Plan((
        Transfer(id="0", flask=START_FLASK, into="beaker"),
        Discard(id="1", flask="beaker"),
        Rinse(id="2", flask=START_FLASK, material="mtbe", volume_mL=2.0, into="vial"),
    ))
    leading = Flow(plan).leading_to("vial")
    assert [(sorted(p.flasks), sorted(p.films)) for p in leading] == [
        ([START_FLASK], [START_FLASK]),
        ([], [START_FLASK]),
        ([], [START_FLASK]),
        (["vial"], []),
    ]


def test_a_vessel_can_be_asked_about_before_the_end() -> None:
    plan = Plan((
        Transfer(id="0", flask=START_FLASK, into="vial"),
        Weigh(id="1", flask="vial"),
        Transfer(id="2", flask="vial", into="bottle"),
    ))
    flow = Flow(plan)
    assert flow.leads_to("vial", at=2) == ({START_FLASK}, {"vial"}, {"vial"})
    assert flow.leads_to("vial") == (set(), set(), set(), {"vial"})


def test_a_parting_says_how_often_it_is_shaken_and_with_what() -> None:
    parted = {"flask": "a", "keep_in": "b", "other_in": "c"}
    fresh = {**parted, "material": "water", "volume_mL": 10.0, "portions": 3}
    wash, extract = Wash(id="1", **fresh), Extract(id="2", **fresh)
    separate = Separate(id="3", **parted)
    assert [step.shakes for step in (wash, extract, separate)] == [3, 3, 1]
    assert wash.fresh == Use("water", 10.0, 3)
    assert separate.fresh is None
    assert [step.pools_kept for step in (wash, extract, separate)] == [False, True, False]


def test_a_plan_gives_the_steps_of_a_kind_in_order() -> None:
    parted = {"keep_in": "b", "other_in": "c"}
    plan = Plan((Separate(id="1", flask="a", **parted), Discard(id="2", flask="c"),
                 Separate(id="3", flask="b", **parted)))
    assert [step.id for step in plan.of(Parting)] == ["1", "3"]
    assert [step.id for step in plan.of(Parting, before=2)] == ["1"]
    assert plan.of(Wash) == []
    onward = Flow(plan).of(Separate, 0, "b")
    assert [step.id for step in onward] == ["3"]
