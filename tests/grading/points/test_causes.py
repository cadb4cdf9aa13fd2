"""What is said of several faults at once: about the plan as it was written, each once."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.bench.grading import several_mistakes
from workups.chemistry.plan import START_FLASK, Adjust, Plan
from workups.documents import library_exercise
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Finding, Strength
from workups.grading.rule import RULES


def findings(exercise: Exercise, plan: Plan) -> dict[str, Finding]:
    """Every finding on a plan, by its rule."""
    found = assess(exercise, plan, draws=24)
    return {f.code: f for check in found.checks for f in check.findings}


def edited(plan: Plan, step: str, **changes: object) -> Plan:
    return plan.replacing(replace(plan.steps[plan.index(step)], **changes))  # type: ignore[arg-type]


def test_a_fault_that_looks_different_once_another_is_mended_says_so() -> None:
    """One portion in place of three and too little agent: more solvent asks for more agent."""
    exercise = library_exercise("bottom-layer")
    said = findings(exercise, several_mistakes(exercise))
    first, second = said["recovery-below-goal"], said["too-little-agent"]
    assert not first.message.startswith("Once")
    assert second.message.startswith(f'Once "{RULES[first.code].title}" is mended, this is left: ')


def test_a_fault_that_looks_the_same_is_told_about_the_plan_as_written() -> None:
    """No brine and too little agent: the mended amount of agent changes nothing of the load."""
    exercise = library_exercise("plain-ether")
    plan = edited(exercise.model_plan, "dry", endpoint="weighed", mass_g=0.1)
    said = findings(exercise, plan.without("wash-brine", "discard-brine"))
    assert {"no-brine", "too-little-agent"} <= set(said)
    assert not any(f.message.startswith("Once") for f in said.values())


def test_a_consequence_is_told_about_the_plan_as_written_and_not_charged() -> None:
    """A carbonate wash that meets all the acid leaves some behind; water first mends both."""
    exercise = library_exercise("too-much-vinegar")
    plan = exercise.model_plan.without("wash-water")
    for found in findings(exercise, plan).values():
        if not found.charged:
            assert found.score_loss == 0.0
            assert not found.message.startswith("Once")


def test_what_carbonate_leaves_behind_is_a_consequence_of_meeting_all_the_acid() -> None:
    """Bicarbonate straight on the acid is used up; the acid that stays is charged once."""
    exercise = library_exercise("too-much-vinegar")
    said = findings(exercise, exercise.model_plan.without("dilute", "wash-water"))
    assert said["carbonate-before-water"].charged
    assert not said["acid-left-in-product"].charged


@pytest.mark.parametrize(("key", "missing", "bottle"), [
    ("bottom-layer", ("make-basic", "test-basic"), "sodium carbonate"),
    ("catch-it", ("make-basic", "test-base"), "sodium hydroxide")])
def test_the_base_that_is_advised_stands_on_the_bench(
    key: str, missing: tuple[str, ...], bottle: str
) -> None:
    exercise = library_exercise(key)
    said = findings(exercise, exercise.model_plan.without(*missing))["acid-left-in-product"]
    assert bottle in said.change
    assert len({n.name for n in said.numbers}) == len(said.numbers)


def test_bicarbonate_that_stops_at_its_gas_is_information() -> None:
    """Neutralised with bicarbonate, as many do: no word of a strong base on an ester."""
    exercise = library_exercise("too-much-vinegar")
    plan = exercise.model_plan.without("dilute", "wash-water")
    neutralised = Adjust(id="neutralise", flask=START_FLASK, material="nahco3_sat", until_pH=8.0)
    said = findings(exercise, plan.inserting(plan.index("extract"), neutralised))
    finding = said["ph-not-reached"]
    assert finding.strength is Strength.INFORMATION
    assert "carbon dioxide" in finding.message
    assert "strong" not in finding.change


def test_an_agent_that_takes_the_product_is_answered_with_one_that_does_not() -> None:
    exercise = library_exercise("handle-gently")
    plan = edited(exercise.model_plan, "dry", agent="calcium_chloride")
    assert "sodium sulfate" in findings(exercise, plan)["agent-incompatible"].change


def test_ethanol_left_in_the_product_is_said_once() -> None:
    exercise = library_exercise("plain-ether")
    plan = edited(exercise.model_plan, "strip", hold_min=0.0, pressure_mbar=1013.0)
    said = findings(exercise, plan.without("wash-water"))
    assert {"solvent-left", "cosolvent-left-in-product"} & set(said) == {"solvent-left"}
