"""The bench part of drying: a blank never pays, and the eye's word is heard.

The need of agent is put in by the test, so that each score can be worked out by hand.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Dry, Plan
from workups.chemistry.readings import DoneStep, DryingRecord, Readings
from workups.chemistry.run import continue_run, prepare
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import CheckResult
from workups.grading.case import Case
from workups.grading.recorded.benchdrying import bench_drying

ETHER = library_exercise("plain-ether")
PLAN = ETHER.model_plan


@cache
def the_case() -> Case:
    """The model plan, with a need of 2.0 g in every draw above what stays loose."""
    run = continue_run(prepare(ETHER.setup, Draws(1, 20)), PLAN)
    loose = run.inventory.practice["loose_g"]
    outcomes = tuple(
        replace(o, facts=replace(o.facts, drying=replace(
            o.facts.drying, needed_g=np.full(20, 2.0) + loose, agent_look="free-flowing")))
        if o.facts.drying else o
        for o in run.outcomes)
    return Case(ETHER, PLAN, replace(run, outcomes=outcomes))


def scored(**record: object) -> float:
    score, _, _ = bench_drying(the_case(), Readings(drying=(DryingRecord("dry", **record),)))
    assert score is not None
    return score


@pytest.mark.parametrize(("mass_g", "look", "liquid", "score"), [
    (2.0, "free-flowing", "clear", 1.0),
    (2.0, "", "", 0.6),                    # no look
    (5.0, "clumped", "clear", 0.8),        # enough by the computation, not to the eye
    (5.0, "free-flowing", "", 0.8),
    (5.0, "free-flowing", "cloudy", 0.8),
    (5.0, "", "cloudy", 0.6),
    (5.0, "clumped", "cloudy", 0.6),
    (5.0, "puddle", "clear", 0.8),
    (1.9, "clumped", "clear", 0.75),
    (1.0, "", "", 0.4),
    (1.3, "free-flowing", "cloudy", 0.45),
    (1.0, "free-flowing", "clear", 1.0),   # half of the need is enough where it was loose
    (1.0, "free-flowing", "", 0.4),
    (0.9, "free-flowing", "clear", 0.9),
    (0.8, "", "", 0.4),
    (0.3, "", "", 0.4),                    # the poorest record
    (0.0, "", "", 0.4),
    (None, "free-flowing", "clear", 0.4),  # a look alone
    (None, "", "", 0.4),                   # a blank
])
def test_what_a_record_earns(
    mass_g: float | None, look: str, liquid: str, score: float
) -> None:
    found = scored(agent_mass_g=mass_g, agent_look=look, liquid_look=liquid)
    assert found == pytest.approx(score)


def test_the_lower_end_of_an_uncertain_need_is_enough() -> None:
    """Needs of 1.0 to 2.9 g, evenly: the 5th percentile lies 0.95 of a step above the lowest."""
    case = the_case()
    needs = 1.0 + 0.1 * np.arange(20) + case.inventory.practice["loose_g"]
    outcomes = tuple(
        replace(o, facts=replace(o.facts, drying=replace(o.facts.drying, needed_g=needs)))
        if o.facts.drying else o
        for o in case.run.outcomes)
    case = replace(case, run=replace(case.run, outcomes=outcomes))
    record = DryingRecord("dry", agent_mass_g=1.0)
    score, _, _ = bench_drying(case, Readings(drying=(record,)))
    assert score == pytest.approx(1.0 / 1.095 - 0.4)


def test_a_blank_earns_what_the_poorest_record_does_and_says_so() -> None:
    score, [finding], _ = bench_drying(the_case(), Readings())
    assert score == pytest.approx(0.4)
    assert finding.code == "drying-not-recorded"
    assert finding.charged
    assert finding.score_loss == pytest.approx(0.6)
    for mass in np.linspace(0.0, 4.0, 41):
        assert scored(agent_mass_g=float(mass)) >= score


def test_a_short_mass_is_charged_by_what_it_lost() -> None:
    record = DryingRecord("dry", agent_mass_g=1.5, agent_look="clumped")
    _, [finding, _], _ = bench_drying(the_case(), Readings(drying=(record,)))
    assert finding.code == "bench-too-little-agent"
    assert finding.score_loss == pytest.approx(0.25)
    assert "2.0 to 2.0 g" in finding.message


@pytest.mark.parametrize(("look", "computed", "score", "charged"), [
    ("clumped", "free-flowing", 0.8, True), ("free-flowing", "clumped", 1.0, False)])
def test_a_look_that_does_not_fit_is_asked_about_and_charged_only_where_it_is_the_poorer(
    look: str, computed: str, score: float, charged: bool
) -> None:
    record = DryingRecord("dry", agent_mass_g=2.0, agent_look=look, liquid_look="clear")
    found, [finding], _ = bench_drying(_looking(computed), Readings(drying=(record,)))
    assert (round(found, 6), finding.code, finding.question, finding.charged) == (
        score, "look-differs", True, charged)


def test_a_look_that_the_recorded_amounts_lead_to_costs_nothing() -> None:
    record = DryingRecord("dry", agent_mass_g=2.0, agent_look="clumped", liquid_look="clear")
    assert bench_drying(_looking("clumped"), Readings(drying=(record,)))[:2] == (1.0, ())


def _looking(look: str) -> Case:
    case = the_case()
    outcomes = tuple(
        replace(o, facts=replace(o.facts, drying=replace(o.facts.drying, agent_look=look)))
        if o.facts.drying else o
        for o in case.run.outcomes)
    return replace(case, run=replace(case.run, outcomes=outcomes))


def test_two_dryings_count_half_each() -> None:
    case = the_case()
    [drying] = [o for o in case.run.outcomes if isinstance(o.step, Dry)]
    second = replace(drying, step=replace(drying.step, id="dry-again"))
    run = replace(case.run, outcomes=(*case.run.outcomes, second))
    record = DryingRecord("dry", agent_mass_g=2.0)
    score, _, _ = bench_drying(replace(case, run=run), Readings(drying=(record,)))
    assert score == pytest.approx(0.5)


# In the whole assessment: 20 points, 0.6 of them for the plan.

def drying(plan: Plan | None, readings: Readings | None) -> CheckResult:
    found = assess(ETHER, plan, readings, draws=24)
    return next(c for c in found.checks if c.name == "drying")


def all_done(*, skipped: str = "") -> tuple[DoneStep, ...]:
    return tuple(DoneStep(s, "skipped" if s.id == skipped else "done") for s in PLAN.steps)


def test_before_there_are_readings_the_plan_part_alone_is_judged() -> None:
    full = drying(None, None)
    assert (full.points, full.note) == (20.0, "the plan part alone: no readings yet")
    without = PLAN.without("dry", "filter")
    wet = Plan(tuple(
        replace(s, flask="ether layer") if getattr(s, "flask", "") == "round-bottom flask" else s
        for s in without.steps if s.id != "tare"))
    charged = drying(wet, None)
    lost = sum(f.score_loss for f in charged.findings if f.charged)
    assert lost > 0
    assert charged.score == pytest.approx(max(0.0, 1.0 - lost))
    never_dried = drying(wet, Readings(steps=(DoneStep(PLAN.steps[0], "done"),)))
    assert never_dried.score == charged.score
    assert never_dried.note == "the plan part alone: nothing to judge at the bench"


def test_a_drying_that_was_planned_and_skipped_earns_no_bench_part() -> None:
    found = drying(None, Readings(steps=all_done(skipped="dry")))
    assert found.points == pytest.approx(12.0)
    assert [f.code for f in found.findings if f.charged] == ["drying-skipped"]


def test_a_blank_costs_what_a_poor_record_costs_in_points() -> None:
    found = drying(None, Readings(steps=all_done()))
    assert found.points == pytest.approx(20 * (0.6 + 0.4 * 0.4))
    honest = DryingRecord("dry", agent_mass_g=3.0, agent_look="free-flowing", liquid_look="clear")
    assert drying(None, Readings(steps=all_done(), drying=(honest,))).points == 20.0
