"""A kind of step is added in one place and arrives everywhere.

A kind that the program does not have is put into the registry with its action. What follows asks
every consumer for it; none of them may leave it out without a word.
"""

from __future__ import annotations

import ast
from dataclasses import dataclass, replace
from pathlib import Path
from typing import ClassVar

import pytest

from tests.entries import paper_bench
from workups.chemistry import plan as plan_module
from workups.chemistry import steps as actions
from workups.chemistry.draws import Draws
from workups.chemistry.facts import Facts
from workups.chemistry.flow import Flow
from workups.chemistry.inventory import Inventory
from workups.chemistry.materials import poured
from workups.chemistry.plan import START_FLASK, WASTE, Plan, Weigh
from workups.chemistry.pouring import pour_everything
from workups.chemistry.run import simulate
from workups.chemistry.state import State
from workups.chemistry.step import (
    Noted,
    Step,
    StepGroup,
    amount_field,
    flask_field,
    material_field,
)
from workups.documents import (
    check_plan,
    dump_plan,
    library_exercise,
    load_plan,
    step_from_data,
    step_to_data,
)
from workups.documents.decode import Decoder
from workups.documents.schema import json_schema
from workups.documents.variants.amounts import scaled_plan
from workups.documents.variants.following import Change, with_streams
from workups.documents.variants.swapping import swapped_plan
from workups.exercise.exercise import Exercise
from workups.explanation.model_summary import plan_warnings
from workups.grading.assess import assess
from workups.grading.orphans import without_orphans
from workups.sheets.bench_sheet import waste_streams
from workups.sheets.blanks import Blank, step_record
from workups.sheets.flask_labels import flask_labels
from workups.stock.stock import Stock, stock_for_one
from workups.web.bench.sheet_forms import SheetForm
from workups.web.plan_editor import new_step, verb_menu
from workups.web.step_forms import FlaskLists, StepForm
from workups.words.sentences import step_caution, step_heading, step_sentence

TRAY = "tray"


@dataclass(frozen=True, kw_only=True)
class Percolate(Step):
    """Let a solvent run through what is in a flask, into another."""

    verb: ClassVar[str] = "percolate"
    title: ClassVar[str] = "Percolate"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    empties: ClassVar[bool] = True
    ta_confirms: ClassVar[str] = "percolator tight"
    written: ClassVar[tuple[Noted, ...]] = (Noted("colour"),)
    flask: str = flask_field("From flask")
    solvent: str = material_field("Solvent", "solvent", amount="through_mL")
    through_mL: float = amount_field("Let run through", "mL", 20.0, 1, 500, noted="through")
    into: str = flask_field("Into", produces=True)
    rest_in: str = flask_field("Rest goes to", produces=True, aside=True, may_be_waste=True)

    def instrument(self) -> str:
        return "percolator"

    def small_things(self) -> tuple[tuple[str, str], ...]:
        return (("percolator sleeves", "percolation"),)


def percolate(inv: Inventory, state: State, step: Percolate) -> tuple[State, Facts]:
    """All of it runs through; a tenth of it drips beside."""
    state, liquid = pour_everything(inv, state, step.flask)
    fresh = poured(inv, step.solvent, step.through_mL)
    liquid, state = liquid.plus(fresh), state.with_input(fresh.total())
    state = (state.with_waste("non_halogenated", liquid.times(0.1).total())
             if step.rest_in == WASTE else state.pouring_into(step.rest_in, liquid.times(0.1)))
    return state.pouring_into(step.into, liquid.times(0.9)), Facts(minutes=7.0)


@pytest.fixture(autouse=True)
def _registered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(plan_module.STEP_KINDS, "percolate", Percolate)  # type: ignore[arg-type]
    monkeypatch.setitem(actions.ACTIONS, "percolate", percolate)  # type: ignore[arg-type]


def exercise() -> Exercise:
    """A library exercise whose model plan begins with the new kind."""
    plain = library_exercise("plain-ether")
    return replace(plain, model_plan=plan_with(STEP, plain))


def plan_with(step: Step, plain: Exercise) -> Plan:
    """The model plan with a step before it and what it made poured back."""
    back = plan_module.Transfer(id="back", flask=TRAY, into=START_FLASK)
    return Plan((step, back, *plain.model_plan.steps))


STEP = Percolate(id="p", flask=START_FLASK, solvent="diethyl_ether", through_mL=25.0, into=TRAY,
                 rest_in=WASTE)


def stock() -> Stock:
    return stock_for_one(exercise())


def test_the_menu_of_the_builder_offers_it() -> None:
    group = next(g for g in verb_menu() if g.title == StepGroup.FLASKS.value)
    assert ("percolate", "Percolate") in group.verbs
    assert sorted(v for g in verb_menu() for v, _ in g.verbs) == sorted(plan_module.STEP_KINDS)


def test_a_new_one_starts_with_its_defaults_and_the_flask_in_hand() -> None:
    started = new_step("percolate", "p", {"steps": []})["typed"]
    assert started == {"flask": START_FLASK, "through_mL": 20.0, "note": ""}


def test_its_form_asks_its_fields_and_gives_the_step_back() -> None:
    typed = {**{k: str(v) for k, v in step_to_data(STEP).items()}, "note": ""}
    form = StepForm(typed, verb="percolate", step_id="p", exercise=exercise(),
                    flasks=FlaskLists((START_FLASK,)))
    assert form.is_valid(), form.errors
    assert form.to_step() == STEP
    form = StepForm({**typed, "through_mL": "900"}, verb="percolate", step_id="p",
                    exercise=exercise(), flasks=FlaskLists((START_FLASK,)))
    assert list(form.errors) == ["through_mL"]


def test_files_hold_it_and_the_schema_describes_it() -> None:
    assert step_from_data(step_to_data(STEP)) == STEP
    whole = exercise()
    assert load_plan(dump_plan(whole.model_plan, whole.key)) == whole.model_plan
    assert set(json_schema("plan")["$defs"]["step-percolate"]["properties"]) >= {
        "flask", "solvent", "through_mL", "into", "rest_in"}
    decoder = Decoder()
    decoder.step({**step_to_data(STEP), "through_mL": 900.0}, ())
    assert [path for path, _ in decoder.found()] == [("through_mL",)]


def test_a_plan_is_checked_for_its_flasks_and_materials() -> None:
    whole = exercise()
    assert check_plan(whole.model_plan, whole) == []
    wrong = replace(STEP, flask="nowhere", solvent="sodium_sulfate", into=WASTE)
    found = {p.field for p in check_plan(Plan((wrong,)), whole)}
    assert found == {"flask", "solvent", "into"}


def test_words_name_what_is_in_its_fields() -> None:
    sentence = step_sentence(STEP, exercise())
    for word in ("Percolate", START_FLASK, "ether", "25", TRAY, WASTE):
        assert word in sentence
    assert step_heading(STEP, exercise()).startswith("Percolate, diethyl ether, 25")
    assert "no flame" in step_caution(STEP, exercise())


def test_the_bench_sheet_asks_what_to_write_tick_and_initial() -> None:
    record = step_record(STEP, 0.001)
    assert record.blanks == (Blank("colour"), Blank("through", "mL"))
    assert record.ticks == ("TA: percolator tight",)
    form = SheetForm(bench=paper_bench(exercise(), [STEP]))
    assert {"changed--p--through_mL", "initials--p", "written--p"} <= set(form.fields)


def test_the_stockroom_puts_out_what_it_uses() -> None:
    def ether(found: Stock) -> float:
        return next(n.amount for n in found.needs if n.key == "diethyl_ether")

    without = stock_for_one(library_exercise("plain-ether"))
    assert ether(stock()) == pytest.approx(ether(without) + 25.0)
    assert ("percolator", 1, 7.0) in {(i.name, i.uses, i.minutes) for i in stock().instruments}
    assert ("percolator sleeves", 1) in {(s.name, s.count) for s in stock().sundries}
    assert TRAY in {g.name for g in stock().glass}


def test_waste_counts_what_it_pours_away() -> None:
    stream = next(w for w in stock().waste if w.stream == "non_halogenated")
    assert any("“p”" in said for said in stream.holds)
    assert waste_streams(Plan((STEP,))) == ["liquids poured away at once"]


def test_variants_swap_its_solvent_scale_its_volume_and_find_its_stream() -> None:
    plan = Plan((STEP, plan_module.Discard(id="d", flask=TRAY, stream="halogenated")))
    swapped = swapped_plan(plan, {"diethyl_ether": "dichloromethane"})
    assert swapped.steps[0] == replace(STEP, solvent="dichloromethane")
    assert scaled_plan(plan, 2.0).steps[0] == replace(STEP, through_mL=50.0)
    change = Change({"dichloromethane": "diethyl_ether"}, (), 3)
    assert with_streams(plan, change).of(plan_module.Discard)[0].stream == "non_halogenated"
    assert with_streams(swapped, change) == swapped  # it still uses what that stream is for


def test_its_flask_gets_a_label() -> None:
    labels = {label.flask: label for label in flask_labels(exercise(), exercise().model_plan)}
    assert labels[TRAY].origins[0].startswith("1. Percolate")
    assert WASTE not in labels


def test_the_liquid_is_followed_through_it() -> None:
    plan = exercise().model_plan
    weighed = next(s.flask for s in plan.steps if isinstance(s, Weigh))
    flow = Flow(plan)
    assert flow.leads_to(weighed)[:2] == ({START_FLASK}, {START_FLASK, TRAY})
    assert next(flow.after(0, TRAY))[1].id == "back"
    assert flow.taken_up_later(0, TRAY)
    assert without_orphans(plan.without("p")).steps[0].id != "back"


def test_it_is_carried_out_and_assessed() -> None:
    whole = exercise()
    run = simulate(whole.model_plan, whole.setup, Draws(1, 1))
    assert run.outcome("p").facts.minutes == 7.0
    with pytest.raises(actions.MissingFlask):
        simulate(Plan((replace(STEP, flask="nowhere"),)), whole.setup, Draws(1, 1))
    found = assess(whole, draws=8)
    assert found.steps[0].step == "p"
    assert any("Percolate" in said for said in plan_warnings(whole, whole.model_plan, found))


# Places that ask a step what it is, where it answers what it does: fewer is better.
MOST_ASKED = 80


def test_hardly_any_place_asks_a_step_what_it_is():
    kinds = {kind.__name__ for kind in plan_module.STEP_KINDS.values()} | {"Parting", "TestStep"}
    asked = [
        f"{path}:{node.lineno}"
        for path in sorted(Path(plan_module.__file__).parents[1].rglob("*.py"))
        if path.name != "plan.py"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        and node.func.id == "isinstance"
        and kinds.intersection(n.id for n in ast.walk(node.args[1]) if isinstance(n, ast.Name))
    ]
    assert len(asked) <= MOST_ASKED, "\n".join(asked)
