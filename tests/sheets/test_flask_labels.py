"""Flask labels: what is in a flask, where it came from, its dangers, its tare."""

import datetime
import re

import pytest

from tests.sheets.pdf_text import pages_of
from workups.chemistry import plan as steps
from workups.chemistry.plan import Plan
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment, PhaseReport, StepReport
from workups.sheets.content import FlaskLabels, SheetHead
from workups.sheets.flask_labels import (
    flask_hazards,
    flask_labels,
    flask_labels_html,
    flask_labels_pdf,
)
from workups.sheets.hazard_marks import hazard_marks
from workups.sheets.pictograms import RED
from workups.stock.hazards import pictograms_of
from workups.words.numbers import NBSP

HEAD = SheetHead("Organic Laboratory II", "Section B", "K7Q2", datetime.date(2030, 3, 4))


def holding(pH: float | None = None, **mmol: float) -> list[StepReport]:
    phase = PhaseReport("A", "aqueous", 50, 1.0, pH, tuple(mmol.items()))
    return [StepReport("1", "wash", "", None, False, None, None, (phase,), ())]


def test_every_flask_but_the_waste_gets_a_label(exercise: Exercise, plan: Plan) -> None:
    names = [label.flask for label in flask_labels(exercise, plan)]
    assert names == ["reaction flask", "funnel", "washings", "drying flask", "receiver"]


def test_a_label_says_which_layer_of_which_step_is_inside(exercise: Exercise, plan: Plan) -> None:
    washings = flask_labels(exercise, plan)[2]
    assert washings.layered
    assert washings.origins[0].replace(NBSP, " ") == "4. Wash, water, 2 × 30 mL: lower layer"
    receiver = flask_labels(exercise, plan)[4]
    assert receiver.origins == ("10. Filter",)
    assert not receiver.layered


def test_a_kept_lower_layer_is_labelled_lower(exercise: Exercise) -> None:
    plan = Plan(
        (
            steps.Separate(
                id="1", flask="reaction flask", keep="lower", keep_in="heavy", other_in="light"
            ),
        )
    )
    origins = {label.flask: label.origins for label in flask_labels(exercise, plan)}
    assert origins["heavy"] == ("1. Separate: lower layer",)
    assert origins["light"] == ("1. Separate: upper layer",)


@pytest.mark.parametrize(
    ("reports", "expected"),
    [
        # 10 mmol of 60 g/mol in 90 mmol of 88 g/mol: 0.60 of 8.53 g, 7 %.
        (holding(acetic_acid=10.0, mtbe=90.0), ("Danger", "corrosive", "flammable", "irritant")),
        (holding(acetic_acid=5.0, mtbe=95.0), ("Danger", "flammable", "irritant")),
        # 20 mmol of MTBE are 1.76 g in 54 g of water, 3 %.
        (holding(water=3000.0, mtbe=20.0), ("",)),
        # 10 mmol of aniline are 0.93 g in 54 g of water, 1.7 %: enough for a grave word.
        (
            holding(water=3000.0, aniline=10.0),
            ("Danger", "toxic", "cancer or gene damage possible", "sensitiser", "damages organs"),
        ),
        (holding(pH=1.2, water=3000.0, sodium=5.0), ("Danger", "corrosive")),
        (holding(pH=12.5, water=3000.0, sodium=5.0), ("Danger", "corrosive")),
        (holding(pH=7.0, water=3000.0, sodium=5.0), ("",)),
        # 2 mmol of dichloromethane are 0.17 g in 9 g of water, 1.9 %: suspected of causing cancer.
        (holding(water=500.0, dichloromethane=2.0), ("Warning", "cancer or gene damage possible")),
        ([], ("",)),
    ],
)
def test_signal_and_hazard_words_follow_what_is_in_the_flask(
    reports: list[StepReport], expected: tuple[str, ...]
) -> None:
    marks = hazard_marks(flask_hazards("A", reports, tables()), "x")
    assert (marks.signal, *marks.words) == expected


def test_the_last_report_with_contents_counts() -> None:
    emptied = StepReport("2", "transfer", "", None, False, None, None, (), ())
    assert flask_hazards("A", [*holding(mtbe=5.0), emptied], tables()) == ("H225", "H315")


def test_the_labels_fit_on_one_page_and_carry_code_tare_and_no_name(
    exercise: Exercise, plan: Plan, assessment: Assessment
) -> None:
    pages = pages_of(flask_labels_pdf(FlaskLabels(HEAD, exercise, plan, assessment.steps)))
    assert len(pages) == 1
    assert pages[0].count("K7Q2") == 6  # five labels and the foot of the page
    assert pages[0].count("tare with label") == 5
    assert "WARNING Flammable" in pages[0]  # hexyl acetate, H226


def test_pictograms_of_a_label_are_black_large_and_only_where_there_is_a_hazard(
    exercise: Exercise, plan: Plan, assessment: Assessment
) -> None:
    html = flask_labels_html(FlaskLabels(HEAD, exercise, plan, assessment.steps))
    assert RED not in html
    drawn = [label.count("<svg") for label in html.split('class="label"')[1:]]
    labels = flask_labels(exercise, plan, assessment.steps)
    assert drawn == [len(pictograms_of(label.hazards)) for label in labels]
    assert max(drawn) > min(drawn) == 0
    assert len(re.findall(r'id="ghs-[^"]*-title"', html)) == sum(drawn)
    assert len(set(re.findall(r'id="ghs-[^"]*-title"', html))) == sum(drawn)


def test_five_pictograms_are_made_smaller() -> None:
    marks = hazard_marks(["H225", "H301", "H314", "H351", "H410"], "x")
    assert (len(marks.pictograms), marks.are_many) == (5, True)
    assert not hazard_marks(["H225", "H301", "H314", "H351"], "x").are_many


def test_without_reports_the_hazards_are_left_to_be_written(exercise: Exercise, plan: Plan) -> None:
    (page,) = pages_of(flask_labels_pdf(FlaskLabels(HEAD, exercise, plan)))
    assert page.count("Hazards:") == 5
    assert "flammable" not in page
