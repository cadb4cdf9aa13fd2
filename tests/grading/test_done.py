"""What was done, from the marks: believed, but where hands and eyes would have noticed."""

from __future__ import annotations

from functools import cache

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.measures import measure
from workups.chemistry.plan import Plan, Weigh
from workups.chemistry.readings import DoneStep, DryingRecord, Readings, TargetReadings, Weighing
from workups.chemistry.run import Run, continue_run, prepare
from workups.chemistry.steps import MissingFlask
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.done import carried_out, is_refuted, plan_as_done, readings_asked
from workups.grading.expected import weighed_mass

ETHER = library_exercise("plain-ether")
PLAN = ETHER.model_plan
TARGET = "1_butoxy_4_methylbenzene"


@cache
def start() -> Run:
    return continue_run(prepare(ETHER.setup, Draws(1, 8)), PLAN)


def record(*skipped: str, mass_g: float | None = 2.95) -> Readings:
    steps = tuple(DoneStep(s, "skipped" if s.id in skipped else "done") for s in PLAN.steps)
    if mass_g is None:
        return Readings(steps)
    weighings = (Weighing("tare", 50.0), *(Weighing("gross", 50.0 + mass_g),) * 2)
    return Readings(steps, targets={TARGET: TargetReadings(weighings)})


def not_skipped(*skipped: str, mass_g: float | None = 2.95) -> list[str]:
    return [s.id for s in carried_out(start(), PLAN, record(*skipped, mass_g=mass_g)).not_skipped]


@pytest.mark.parametrize("step", ["cool", "wash-water", "wash-brine", "dry", "label-aqueous",
                                  "discard-aqueous"])
def test_a_step_that_can_be_left_out_is_believed_to_be(step: str) -> None:
    found = carried_out(start(), PLAN, record(step))
    assert found.not_skipped == ()
    assert step not in {s.id for s in found.plan.steps}


@pytest.mark.parametrize("step", ["extract", "filter", "strip"])
def test_a_step_that_hands_and_eyes_would_have_missed_is_taken_as_done(step: str) -> None:
    """No ether layer to go on with; an empty flask; 40 mL of ether still in the flask."""
    found = carried_out(start(), PLAN, record(step))
    assert [s.id for s in found.not_skipped] == [step]
    assert found.plan == PLAN
    assert weighed_mass(found.run, TARGET)[0] == pytest.approx(2.95, rel=0.1)


def test_only_the_step_that_is_needed_is_put_back() -> None:
    assert not_skipped("wash-brine", "filter") == ["filter"]
    assert not_skipped("filter", "strip") == ["filter", "strip"]


def test_what_served_a_skipped_step_falls_out_with_it() -> None:
    done = plan_as_done(PLAN, record("wash-brine"))
    assert {s.id for s in PLAN.steps} - {s.id for s in done.steps} == {
        "wash-brine", "discard-brine"}


def test_an_empty_flask_that_weighs_nothing_is_believed() -> None:
    assert not_skipped("filter", mass_g=0.0) == []
    assert not_skipped("filter", mass_g=None) == []
    assert not_skipped("extract", mass_g=None) == ["extract"]


@pytest.mark.parametrize(("times", "refuted"), [
    (3.9, False), (4.1, True), (1 / 3.9, False), (1 / 4.1, True)])
def test_a_run_is_refuted_by_a_mass_from_a_factor_of_four_on(times: float, refuted: bool) -> None:
    held = float(measure(start(), TARGET).mass_g[0])
    weighings = (Weighing("tare", 50.0), Weighing("gross", 50.0 + held * times))
    readings = Readings(targets={TARGET: TargetReadings(weighings)})
    assert is_refuted(start(), readings) is refuted


def test_what_no_step_explains_is_not_put_back() -> None:
    assert not_skipped("wash-brine", mass_g=0.1) == []


def test_without_skipped_steps_what_cannot_be_carried_out_is_told_as_before() -> None:
    steps = tuple(DoneStep(s, "done") for s in PLAN.steps)
    with pytest.raises(MissingFlask):
        carried_out(start(), PLAN.without("extract"), Readings(steps))


def test_the_whole_assessment_asks_and_charges_nothing_for_it() -> None:
    found = assess(ETHER, None, record("filter", mass_g=2.95), draws=40)
    [check] = [c for c in found.checks if c.name == "yield"]
    assert [f.code for f in check.findings] == ["skipped-but-needed"]
    assert check.score == 1.0


def test_a_recorded_mass_of_agent_replaces_the_planned_endpoint() -> None:
    drying = (DryingRecord("dry", agent_mass_g=1.7, minutes=3.0),)
    step = plan_as_done(PLAN, Readings(drying=drying)).steps[PLAN.index("dry")]
    assert (step.endpoint, step.mass_g, step.minutes) == ("weighed", 1.7, 3.0)


@pytest.mark.parametrize(("readings", "asked"), [(1, 1), (2, 2), (3, 3)])
def test_readings_are_asked_for_as_planned(readings: int, asked: int) -> None:
    plan = PLAN.replacing(Weigh(id="weigh", flask="round-bottom flask", readings=readings))
    assert readings_asked(plan, start(), TARGET) == asked


def test_a_plan_that_does_not_weigh_asks_for_one_reading() -> None:
    assert readings_asked(Plan(PLAN.steps[:3]), start(), TARGET) == 1
