"""The ledger: every mmol of a product is somewhere, and it is said where and since which step.

What must hold is conservation, checked against the run's own sums, and what a chemist would say of
plans spoilt by hand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.measures import measure
from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Combine,
    Discard,
    Extract,
    FieldKind,
    Filter,
    Plan,
    Step,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.chemistry.recovery import extraction_stage, recovery
from workups.chemistry.run import Run, continue_run
from workups.documents import library_exercise, library_names
from workups.exercise.exercise import Exercise
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.points.ledger import Entry, How, Ledger, ledger_of, ledgers_of

DRAWS = 8
RBF = "round-bottom flask"


def _run(exercise: Exercise, plan: Plan) -> Run:
    return continue_run(model_run(exercise, 1, DRAWS), plan)


def _ledger(exercise: Exercise, plan: Plan) -> Ledger:
    return ledger_of(_run(exercise, plan), exercise.setup.targets[0].substance)


def _largest(ledger: Ledger) -> tuple[Entry, float]:
    entry = max(ledger.entries, key=lambda e: float(e.mmol[0]))
    return entry, float(ledger.share(entry.mmol)[0])


def _spoilt(plan: Plan) -> list[Plan]:
    """A plan with each of its steps left out in turn, and with each layer kept the other way."""
    shorter = [plan.without(s.id) for s in plan.steps]
    other = {"upper": "lower", "lower": "upper"}
    turned = [plan.replacing(replace(s, keep=other[s.keep]))  # type: ignore[call-arg]
              for s in plan.steps if hasattr(s, "keep")]
    return [*shorter, *turned]


@pytest.mark.parametrize("key", library_names())
def test_the_ledger_sums_to_what_there_was(key: str) -> None:
    """For the model plan and its alternatives, and for the model plan spoilt at every step."""

    exercise = library_exercise(key)
    case = Case(exercise, exercise.model_plan, model_run(exercise, 1, DRAWS))
    tried = 0
    for plan in (*exercise.alternatives, exercise.model_plan, *_spoilt(exercise.model_plan)):
        changed = case.tried(plan)
        if changed is None:
            continue
        tried += 1
        for ledger in ledgers_of(changed.run):
            total = ledger.weighed_mmol + sum(e.mmol for e in ledger.entries)
            np.testing.assert_allclose(total, ledger.available_mmol, rtol=1e-9)
            assert all(np.all(e.mmol >= -1e-9 * ledger.available_mmol) for e in ledger.entries
                       if e.how is not How.REACTED)
    assert tried > len(exercise.model_plan.steps)


def test_a_weighed_vial_that_nothing_was_poured_into_leaves_all_in_the_reaction_flask() -> None:
    plan = Plan((Tare(id="t", flask="vial"), Weigh(id="w", flask="vial")))
    ledger = _ledger(library_exercise("plain-ether"), plan)
    entry, share = _largest(ledger)
    assert (entry.place, entry.step, entry.how) == (START_FLASK, "", How.NOT_CARRIED_ON)
    assert share == pytest.approx(1.0, abs=1e-9)
    assert float(ledger.delivered.max()) == 0.0


def test_what_is_on_the_agent_when_the_filter_is_forgotten_is_said_to_be_there() -> None:
    exercise = library_exercise("plain-ether")
    plan = exercise.model_plan.without("filter")
    entry, share = _largest(_ledger(exercise, plan))
    assert (entry.place, entry.step, entry.how) == ("ether layer", "dry", How.NOT_CARRIED_ON)
    assert share > 0.9


@pytest.mark.parametrize("thrown", ["never", "now", "at the end"])
def test_a_layer_put_aside_is_lost_at_the_shake_whenever_it_is_thrown_away(thrown: str) -> None:
    exercise = library_exercise("plain-ether")
    step = next(s for s in exercise.model_plan.steps if isinstance(s, Extract))
    other = "other layer" if thrown != "now" else WASTE
    wrong = replace(step, keep="lower", other_in=other)
    plan = Plan(tuple(s for s in exercise.model_plan.replacing(wrong).steps
                      if s.acts_on != step.other_in))
    if thrown == "at the end":
        plan = plan.inserting(len(plan.steps), Discard(id="tip", flask=other))
    ledger = _ledger(exercise, plan)
    lost = float(ledger.share(sum(e.mmol for e in ledger.entries if e.step == step.id))[0])
    assert lost > 0.95
    entry, _ = _largest(ledger)
    assert entry.step == step.id
    assert entry.place == (WASTE if thrown == "now" else other)


def test_a_flask_kept_by_the_plan_and_then_poured_away_is_lost_when_it_is_poured() -> None:
    exercise = library_exercise("plain-ether")
    filtering = next(s for s in exercise.model_plan.steps if isinstance(s, Filter))
    at = exercise.model_plan.index(filtering.id)
    plan = exercise.model_plan.inserting(at, Discard(id="oops", flask=filtering.flask))
    entry, share = _largest(_ledger(exercise, plan))
    assert (entry.step, entry.how, entry.place) == ("oops", How.POURED_AWAY, WASTE)
    assert share > 0.9


def test_an_amine_washed_with_acid_is_washed_out_as_charge_balance_says() -> None:
    """20 mmol of acid and 17 mmol of an amine of pKa above 9: all but a trace is the salt."""
    exercise = library_exercise("there-and-back")
    layer = next(s for s in exercise.model_plan.steps if s.verb == "dry").acts_on
    at = next(i for i, s in enumerate(exercise.model_plan.steps) if s.verb == "dry")
    wash = Wash(id="acid", flask=layer, material="hcl_1m", volume_mL=40.0, keep_in=layer,
                other_in="washings", swirl_open=True)
    ledger = _ledger(exercise, exercise.model_plan.inserting(at, wash))
    entry, share = _largest(ledger)
    assert (entry.step, entry.place, entry.how) == ("acid", "washings", How.WASHED_OUT)
    assert share > 0.9


def test_a_product_that_is_never_weighed_is_in_its_flask() -> None:
    exercise = library_exercise("plain-ether")
    plan = Plan(tuple(s for s in exercise.model_plan.steps if s.verb != "weigh"))
    ledger = _ledger(exercise, plan)
    entry, share = _largest(ledger)
    assert entry.how is How.NEVER_WEIGHED
    assert entry.place == RBF
    assert share > 0.9
    assert ledger.vessel == ""


def _in_crops(exercise: Exercise, untared: tuple[int, ...] = ()) -> Plan:
    """The model plan with one extract after the other taken to a vessel of its own and weighed."""
    model = exercise.model_plan
    step = next(s for s in model.steps if isinstance(s, Extract))
    at, names = model.index(step.id), range(1, 3)
    single = [replace(step, id=f"extract-{n}", portions=1, keep_in=f"{step.keep_in} {n}",
                      flask=step.flask if n == 1 else step.other_in) for n in names]
    rest = [_renamed(s, f" {n}", {step.other_in, WASTE}) for n in names
            for s in model.steps[at + 1:]
            if s.verb not in ("discard", "label") and not (s.verb == "tare" and n in untared)]
    return Plan((*model.steps[:at], *single, *rest))


def _renamed(step: Step, suffix: str, but: set[str]) -> Step:
    changes = {name: value + suffix for name, spec, value in step.fields()
               if spec.kind is FieldKind.FLASK and value and value not in but}
    return replace(step, id=step.id + suffix, **changes)


@pytest.mark.parametrize("key", ["plain-ether", "bottom-layer", "catch-it"])
def test_crops_weighed_in_vessels_of_their_own_are_added_up(key: str) -> None:
    exercise = library_exercise(key)
    target = exercise.setup.targets[0].substance
    run = _run(exercise, _in_crops(exercise))
    ledger = ledger_of(run, target)
    vessels = {f"{RBF} 1", f"{RBF} 2"}
    held = sum(run.end.flasks[v].total()[run.inventory.index[target]] for v in vessels)
    assert set(ledger.vessels_mmol) == vessels
    np.testing.assert_allclose(ledger.weighed_mmol, held)
    np.testing.assert_allclose(measure(run, target).share, ledger.delivered)
    np.testing.assert_allclose(
        held + sum(e.mmol for e in ledger.entries), ledger.available_mmol, rtol=1e-9)


def test_which_of_two_crops_is_tared_does_not_say_where_the_product_is() -> None:
    """It decided once which of them was the product: 0.7 % of it, where that one had a tare."""
    exercise = library_exercise("plain-ether")
    shares = [float(_ledger(exercise, _in_crops(exercise, untared)).delivered[0])
              for untared in ((), (1,), (2,), (1, 2))]
    assert shares == pytest.approx([shares[0]] * 4)
    assert shares[0] > 0.9


@pytest.mark.parametrize("rinses", [0, 1])
def test_a_crop_put_into_a_jar_before_the_next_is_weighed_is_added_up(rinses: int) -> None:
    """It was weighed, and counted as never brought to the balance."""
    exercise = library_exercise("bottom-layer")
    plan = _in_crops(exercise)
    away = Transfer(id="away", flask=f"{RBF} 1", into="jar", rinse_with="dichloromethane",
                    rinse_mL=2, rinses=rinses)
    kept = _ledger(exercise, plan.inserting(plan.index("weigh 1") + 1, away))
    assert set(kept.vessels_mmol) == {f"{RBF} 1", f"{RBF} 2"}
    assert kept.delivered == pytest.approx(_ledger(exercise, plan).delivered)
    assert kept.available_mmol == pytest.approx(
        kept.weighed_mmol + sum(e.mmol for e in kept.entries))


def test_of_crops_poured_away_before_the_next_is_weighed_the_larger_one_counts() -> None:
    exercise = library_exercise("bottom-layer")
    plan = _in_crops(exercise)
    ledger = _ledger(exercise, plan.inserting(plan.index("weigh 1") + 1, Discard(
        id="away", flask=f"{RBF} 1")))
    assert set(ledger.vessels_mmol) == {f"{RBF} 1"}
    assert ledger.delivered[0] == pytest.approx(
        float(_ledger(exercise, plan).vessels_mmol[f"{RBF} 1"][0] / ledger.available_mmol[0]))


def test_what_is_extracted_does_not_depend_on_what_is_done_after_the_weighing() -> None:
    """The layer that is gone on with is called the one not kept."""
    exercise = library_exercise("plain-ether")
    model = exercise.model_plan
    step = next(s for s in model.steps if isinstance(s, Extract))
    named = model.replacing(replace(step, keep="lower", keep_in=step.other_in,
                                    other_in=step.keep_in))
    away = named.inserting(named.index("weigh") + 1, Discard(id="away", flask=RBF))
    target = exercise.setup.targets[0].substance
    found = []
    for plan in (named, away):
        run = _run(exercise, plan)
        stage = extraction_stage(run, target)
        assert stage is not None
        found.append(float(recovery(run, target, stage)[0]))
    assert found == pytest.approx([found[0]] * 2)
    assert found[0] > 0.9


def test_names_of_flasks_and_detours_change_nothing_that_is_lost_in_the_layers() -> None:
    """The same liquids through other glass: the entries for layers are the same mmol."""
    exercise = library_exercise("bottom-layer")
    model = exercise.model_plan
    step = next(s for s in model.steps if isinstance(s, Extract))
    single = [replace(step, id=f"one-{i}", portions=1,
                      flask=step.flask if i == 0 else step.other_in,
                      keep_in=f"extract {i}", rinse_flask=False)
              for i in range(step.portions)]
    pooled: list[Step] = [*single, Combine(
        id="pool", flasks=tuple(f"extract {i}" for i in range(step.portions)), into=step.keep_in)]
    at = model.index(step.id)
    spelt = Plan((*model.steps[:at], *pooled, *model.steps[at + 1:]))
    plain = model.replacing(replace(step, rinse_flask=False))

    def in_layers(plan: Plan) -> float:
        ledger = _ledger(exercise, plan)
        left = [e.mmol[0] for e in ledger.entries if e.how is How.OTHER_LAYER]
        return float(sum(left) / ledger.available_mmol[0])

    assert in_layers(spelt) == pytest.approx(in_layers(plain), abs=0.002)


def test_a_film_rinsed_back_is_not_lost() -> None:
    exercise = library_exercise("too-much-vinegar")
    weigh = next(s for s in exercise.model_plan.steps if s.verb == "weigh")
    over = Transfer(id="over", flask=weigh.acts_on, into="vial")
    moved = replace(weigh, flask="vial")  # type: ignore[call-arg]
    plan = exercise.model_plan.replacing(moved)
    plan = plan.inserting(plan.index(weigh.id), Tare(id="tare-vial", flask="vial"), over)
    solvent = next(m for m in exercise.setup.materials if m in exercise.setup.tables.solvents)
    rinsed = plan.replacing(replace(over, rinse_with=solvent, rinse_mL=3.0, rinses=2))

    def on_glass(plan: Plan) -> float:
        ledger = _ledger(exercise, plan)
        return float(sum(e.mmol[0] for e in ledger.entries
                         if e.step == "over" and e.how is How.ON_GLASS))

    assert 0.0 <= on_glass(rinsed) < 0.2 * on_glass(plan)
