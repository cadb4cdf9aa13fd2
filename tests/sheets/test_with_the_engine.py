"""Sheets and figures of the shipped exercise, computed by the real engine."""

import dataclasses

import pytest

from tests.sheets.pdf_text import pages_of
from workups.chemistry.plan import Parting
from workups.chemistry.readings import DoneStep, Readings, TargetReadings, Weighing
from workups.chemistry.tables import tables
from workups.documents import library_exercise
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.sheets.bench_sheet import bench_sheet_pdf
from workups.sheets.content import BenchSheet, FlaskLabels, SheetHead, YieldReport
from workups.sheets.flask_labels import flask_labels_pdf
from workups.sheets.funnel import funnel_figure, stacked
from workups.sheets.layers import shaken_phases
from workups.sheets.yield_report import yield_report_pdf
from workups.words.numbers import NBSP

HEAD = SheetHead("Organic Laboratory II", "Section B", "K7Q2")


@pytest.fixture(scope="module")
def exercise() -> Exercise:
    return library_exercise("too-much-vinegar")


@pytest.fixture(scope="module")
def record(exercise: Exercise) -> Readings:
    weighings = (
        Weighing("tare", 52.31, "14"),
        Weighing("gross", 58.60, "14"),
        Weighing("gross", 58.59, "14"),
    )
    return Readings(
        steps=tuple(DoneStep(step, "done") for step in exercise.model_plan.steps),
        targets={exercise.setup.targets[0].substance: TargetReadings(weighings)},
    )


@pytest.fixture(scope="module")
def assessment(exercise: Exercise, record: Readings) -> Assessment:
    return assess(exercise, None, record, draws=20)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("at", [None, 1], ids=["model plan", "16 steps"])
def test_a_plan_of_seventeen_steps_fits_on_a_two_page_bench_sheet(
    exercise: Exercise, at: int | None, paper: str
) -> None:
    plan = exercise.model_plan if at is None else exercise.alternatives[at]
    assert len(plan.steps) >= 16
    sheet = BenchSheet(dataclasses.replace(HEAD, paper=paper), exercise, plan)
    assert len(pages_of(bench_sheet_pdf(sheet))) <= 2


def test_every_flask_of_the_model_plan_gets_its_hazard_words(
    exercise: Exercise, assessment: Assessment
) -> None:
    sheet = FlaskLabels(HEAD, exercise, exercise.model_plan, assessment.steps)
    (page,) = pages_of(flask_labels_pdf(sheet))
    assert "DANGER Corrosive" in page  # 105 mmol of acetic acid and the sulfuric acid
    assert "DANGER Flammable" in page


def test_the_report_is_printed_from_what_the_engine_found(
    exercise: Exercise, record: Readings, assessment: Assessment
) -> None:
    pdf = yield_report_pdf(YieldReport(HEAD, exercise, exercise.model_plan, record, assessment))
    text = " ".join(pages_of(pdf)).replace(NBSP, " ")
    # 58.595 g (mean of both gross readings) less 52.31 g.
    assert "Found 6.285 ±" in text
    assert "Constant mass yes" in text


def test_the_layers_of_every_shake_hold_all_that_is_dissolved(
    exercise: Exercise, assessment: Assessment
) -> None:
    plan, target = exercise.model_plan, exercise.setup.targets[0].substance
    shaken = [s for s in plan.steps if isinstance(s, Parting)]
    assert len(shaken) >= 3
    for step in shaken:
        phases = shaken_phases(plan, assessment.steps, step.id, exercise.setup.glassware.funnel_mL)
        layers = stacked(phases, "organic", tables())
        assert [layer.phase.phase for layer in layers] == ["organic", "aqueous"]
        assert layers[1].phase.pH is not None
        held = [s for layer in layers for s in layer.shares if s[0] == target]
        assert sum(share for _, share, _ in held) == pytest.approx(1.0)
        figure = funnel_figure(exercise, plan, assessment.steps, step.id, shares_only=True)
        assert "pH" in figure.text
