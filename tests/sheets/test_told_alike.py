"""What findings and pictures say of one shake: one number for one quantity, and names for keys."""

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from workups.chemistry.plan import Dry, Extract, Parting, Plan, Wash
from workups.documents import library_exercise, library_names, load_exercise
from workups.exercise.public import public_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.grading.looking import look_at_steps
from workups.sheets.funnel import funnel_figure
from workups.sheets.scheme import scheme_figure
from workups.words.numbers import NBSP

PUBLISHED = (Path(__file__).parents[1] / "data" / "procedures"
             / "borohydride-ethanol-no-wash.toml")


@cache
def checked(key: str, plan: Plan) -> Assessment:
    return assess(public_exercise(library_exercise(key)), plan, draws=8)


def test_gas_and_pressure_of_a_shake_are_the_same_in_finding_and_picture() -> None:
    exercise = public_exercise(library_exercise("too-much-vinegar"))
    plan = Plan(tuple(
        replace(s, swirl_open=False) if isinstance(s, Wash) else s
        for s in exercise.model_plan.steps))
    assessment = checked("too-much-vinegar", plan)
    found = next(
        f for c in assessment.checks for f in c.findings if f.code == "carbonate-stoppered")
    amounts = re.findall(rf"\d[\d.{NBSP} ]*{NBSP}(?:mL|kPa)", found.message)
    told = funnel_figure(exercise, plan, assessment.steps, found.step, shares_only=True).text
    assert len(amounts) == 2
    assert all(amount in told for amount in amounts)


def test_a_single_layer_and_one_that_may_be_single_are_said_below_the_funnel() -> None:
    """What the step's report knows was on no page."""
    ether = public_exercise(library_exercise("plain-ether"))
    [step] = ether.model_plan.of(Extract)
    plan = ether.model_plan.replacing(replace(
        step, portions=2, keep="lower" if step.keep == "upper" else "upper"))
    told = funnel_figure(
        ether, plan, checked("plain-ether", plan).steps, step.id, shares_only=True)
    said = "One layer only from portion 2 on: it stays with the layer not kept."
    assert said in told.text
    assert said.partition(":")[0] in told.svg
    hydride = public_exercise(load_exercise(PUBLISHED.read_text(encoding="utf-8")))
    seen = look_at_steps(hydride, hydride.model_plan, seed=1, draws=48)
    [shaken] = hydride.model_plan.of(Extract)
    told = funnel_figure(hydride, hydride.model_plan, seen.steps, shaken.id, shares_only=True)
    assert "On the edge of one layer and two at portion 3: " in told.text


@pytest.mark.parametrize("key", library_names())
def test_no_key_of_a_table_is_shown_even_where_nothing_is_filtered(key: str) -> None:
    exercise = public_exercise(library_exercise(key))
    steps = []
    for step in exercise.model_plan.steps:
        steps.append(step)
        if isinstance(step, Dry):  # washed once more with the agent still in it
            steps.append(Wash(
                id=f"again-{step.id}", flask=step.flask, material="water", volume_mL=10.0,
                keep_in=step.flask, other_in="more washings"))
    plan = Plan(tuple(steps))
    assessment = checked(key, plan)
    figures = [
        scheme_figure(exercise, plan, assessment.steps, shares_only=True),
        *(funnel_figure(exercise, plan, assessment.steps, step.id, shares_only=True)
          for step in plan.of(Parting))]
    said = [f"{f.text} {f.rows} {f.svg}" for f in figures]
    said += [f"{f.message} {f.change} {[n.name for n in f.numbers]}"
             for c in assessment.checks for f in c.findings]
    words = re.sub(r'(?:id|href|fill|aria-labelledby|class)="[^"]*"', "", " ".join(said))
    assert "agent:" not in words
    assert re.findall(r"[a-z0-9]+_[a-z0-9_]+", words) == []


def test_a_product_that_has_left_already_is_not_named_in_the_funnel() -> None:
    """Lidocaine goes into acid first; its last trace is "100 %" in a layer and says nothing."""
    exercise = public_exercise(library_exercise("three-in-one-bottle"))
    plan = exercise.model_plan
    reports = checked("three-in-one-bottle", plan).steps
    first, later = (
        funnel_figure(exercise, plan, reports, step, shares_only=True).text
        for step in ("take-base", "take-acid"))
    assert "lidocaine as cation: 100 % of it" in first.replace(NBSP, " ")
    assert "lidocaine" not in later
