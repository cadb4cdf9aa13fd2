"""The yield report on paper: expected, found, points, findings and the record."""

import dataclasses
import datetime

import pytest

from tests.sheets.pdf_text import pages_of
from workups.chemistry import plan as steps
from workups.chemistry.plan import Plan
from workups.chemistry.readings import DoneStep, DryingRecord, Readings, Witness
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment, Number
from workups.sheets.content import GivenPoints, SheetHead, YieldReport
from workups.sheets.yield_report import (
    changes,
    deviations,
    drying_line,
    mass_balance,
    number_text,
    points_row,
    witness_line,
    yield_facts,
    yield_report_html,
    yield_report_pdf,
)
from workups.words.numbers import NBSP

HEAD = SheetHead("Organic Laboratory II", "Section B", "K7Q2", datetime.date(2030, 3, 4))


@pytest.fixture
def report(
    exercise: Exercise, plan: Plan, readings: Readings, assessment: Assessment
) -> YieldReport:
    return YieldReport(
        HEAD,
        exercise,
        plan,
        readings,
        assessment,
        (GivenPoints("order", 25.0, "Second wash was not available."),),
        "Good record.",
    )


def text_of(report: YieldReport) -> str:
    return " ".join(pages_of(yield_report_pdf(report)))


def plain(text: str) -> str:
    return text.replace(NBSP, " ")


def test_the_report_fits_on_two_pages_and_its_picture_is_drawn(
    report: YieldReport, caplog: pytest.LogCaptureFixture
) -> None:
    pages = pages_of(yield_report_pdf(report))
    assert len(pages) <= 2
    assert "Expected for what was done: 6.12 g" in plain(pages[0])
    assert not caplog.records


def test_the_report_gives_expected_and_found_with_uncertainty(report: YieldReport) -> None:
    text = plain(text_of(report))
    for words in (
        "Theoretical yield 7.17 g",
        "5.88 to 6.62 g",
        "5.70 to 6.45 g",
        "5.925 ± 0.015 g",
        "82.6 ± 0.3 %",
        "Constant mass yes",
        "52.31 g",
        "hexyl acetate 6.05 g (97 %)",
        "pear drops, agrees",
        "I lost a little when the stopper dripped.",
        "Good record.",
    ):
        assert words in text


def test_points_show_what_was_computed_and_why_it_was_changed(report: YieldReport) -> None:
    text = plain(text_of(report))
    assert "Order of steps 25.0 25.0 computed 22.5; Second wash was not available." in text
    # 25 + 20 + 19 + 10 as given, out of 25 + 20 + 20 + 10.
    assert "Total 74.0 75.0" in text


def test_unchanged_points_carry_only_the_remark(assessment: Assessment) -> None:
    check = assessment.checks[1]
    assert points_row(check, None).remark == ""
    assert points_row(check, GivenPoints("extraction", 20.0, "Well done.")).remark == "Well done."


def test_a_finding_tells_what_happened_how_much_what_to_do_and_why(report: YieldReport) -> None:
    text = plain(text_of(report))
    assert "Advice · Step 5, Wash, 5 % sodium bicarbonate solution, 2 × 25 mL" in text
    assert "One portion leaves 6 % of the acetic acid" in text
    assert "Shake with a second portion" in text
    assert "acid left 6 % (4 % to 9 %)" in text
    assert "Why: The first portion runs out" in text


def test_the_diagnosis_is_printed_only_where_asked_for_and_as_a_suggestion(
    report: YieldReport,
) -> None:
    assert "What the readings point to" not in text_of(report)
    text = plain(text_of(dataclasses.replace(report, with_diagnosis=True)))
    assert "Suggestions, computed from the readings; they prove nothing." in text
    assert "Nothing wrong 71 %" in text


def test_deviations_say_what_was_changed_against_the_plan(
    exercise: Exercise, plan: Plan, readings: Readings
) -> None:
    lines = {
        where.split(",")[0]: plain(what) for where, what in deviations(exercise, plan, readings)
    }
    assert lines == {
        "Step 5": "Changed: portions 1 (planned 2). Ran out of bench solution.",
        "Step 8": "Took a second spatula.",
    }


def test_skipped_and_added_steps_are_told(exercise: Exercise, plan: Plan) -> None:
    added = steps.Stand(id="new", flask="funnel", minutes=5)
    record = Readings((DoneStep(plan.steps[5], "skipped"), DoneStep(added, "added", "s4")))
    lines = [(where, plain(what)) for where, what in deviations(exercise, plan, record)]
    assert lines[0][1] == "Skipped."
    assert lines[1] == ("Let stand", "Added: Let ‘funnel’ stand for 5 min.")


def test_a_change_names_units_and_flags() -> None:
    planned = steps.Add(id="1", flask="a", material="mtbe", volume_mL=30)
    done = steps.Add(id="1", flask="a", material="mtbe", volume_mL=25.5, slowly=True)
    assert plain(changes(planned, done)) == (
        "Changed: volume 25.5 mL (planned 30 mL); slowly, in portions yes (planned no)."
    )
    assert changes(None, done) == "Changed."


def test_the_mass_balance_adds_all_products_up(report: YieldReport, assessment: Assessment) -> None:
    assert mass_balance(assessment) == ""
    second = dataclasses.replace(assessment.expected[0], target="b", name="b")
    masses = ((0.90, 0.015, 1.0), (0.85, 0.020, 1.0))
    found = tuple(
        dataclasses.replace(assessment.readings[0], mass_g=m, mass_u_g=u, theoretical_g=t)
        for m, u, t in masses
    )
    both = dataclasses.replace(
        assessment, expected=(assessment.expected[0], second), readings=found
    )
    # 0.90 + 0.85 g; the root of 0.015^2 + 0.020^2 is 0.025 g.
    assert plain(mass_balance(both)) == "1.750 ± 0.025 g found of 2.00 g (88 %)"
    assert "Mass balance, all products." in text_of(dataclasses.replace(report, assessment=both))


def test_without_readings_the_report_says_so(assessment: Assessment) -> None:
    facts = dict(yield_facts(assessment.expected[0], None))
    assert facts["Found"] == "not recorded"
    assert "Percent yield" not in facts


def test_a_record_without_anything_is_still_printed(report: YieldReport) -> None:
    bare = dataclasses.replace(report.assessment, readings=(), diagnosis=())
    html = yield_report_html(dataclasses.replace(report, readings=Readings(), assessment=bare))
    assert "Every step as planned." in html
    assert "None" not in html


@pytest.mark.parametrize(
    ("number", "expected"),
    [
        (Number("left", 0.093, ""), "left 9 %"),
        (Number("left", 0.093, "", 0.04, 0.12), "left 9 % (4 % to 12 %)"),
        (Number("gas", 218.6, "mL"), "gas 219 mL"),
        (Number("gas", 218.6, "mL", 180.0, 260.0), "gas 219 mL (180 to 260 mL)"),
    ],
)
def test_numbers_of_a_finding_carry_unit_and_range(number: Number, expected: str) -> None:
    assert plain(number_text(number)) == expected


@pytest.mark.parametrize(
    ("witness", "expected"),
    [
        (Witness("mp", "sharp", 133.0, 134.5, True), "mp: 133 to 134.5 °C, sharp, agrees"),
        (Witness("mp", "", 133.0, None, False), "mp: 133 °C, does not agree"),
        (Witness("odour", "pear drops"), "odour: pear drops"),
    ],
)
def test_a_witness_reads_as_one_line(witness: Witness, expected: str) -> None:
    assert plain(witness_line(witness)) == expected


def test_drying_reads_as_one_line(plan: Plan) -> None:
    record = DryingRecord("s8", 2.1, 1, "clumped", "cloudy", 12)
    assert plain(drying_line(record, plan)) == (
        "step 8, 2.1 g of agent, 1 portion, 12 min, agent clumped, liquid cloudy"
    )
    assert drying_line(DryingRecord("gone"), plan) == ""


def test_deviations_are_those_from_the_plan_that_was_worked_down(
    report: YieldReport, plan: Plan
) -> None:
    """The record follows a partner's plan with one step more in front."""
    last = plan.steps[-1]
    shared = Plan((dataclasses.replace(last, id="before"), *plan.steps))
    skipped = Readings(steps=(DoneStep(last, "skipped"),))
    own, worked_down = (
        yield_report_html(dataclasses.replace(report, readings=skipped, bench_plan=bench_plan))
        for bench_plan in (None, shared)
    )
    assert f"Step {len(plan.steps)}," in own
    assert f"Step {len(plan.steps) + 1}," in worked_down


def test_what_was_struck_out_and_answered_is_printed(report):
    html = yield_report_html(dataclasses.replace(
        report,
        struck=(("Tare", "45.31 g", "misread"),),
        answers=(("Where does the phenol go?", "Into the water."), ("And then?", "")),
    ))
    assert "<s>Tare 45.31 g</s> misread" in html
    assert "Where does the phenol go?" in html
    assert "Not answered." in html
