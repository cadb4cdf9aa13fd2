"""Questions about a record: asked where something is odd, silent where it is not."""

from __future__ import annotations

import pytest

from workups.chemistry.readings import Readings, SamplePart, TargetReadings, Weighing
from workups.documents import library_exercise
from workups.grading.assessment import Finding
from workups.grading.recorded.record import record_questions

CHARGED_G = 14.0


def asked(*weighings: Weighing, parts: tuple[SamplePart, ...] = ()) -> list[Finding]:
    record = TargetReadings(weighings, parts=parts)
    return list(record_questions(Readings(targets={"product": record}), CHARGED_G))


def codes(*weighings: Weighing, parts: tuple[SamplePart, ...] = ()) -> list[str]:
    return [f.code for f in asked(*weighings, parts=parts)]


def tare(mass_g: float, **more: object) -> Weighing:
    return Weighing("tare", mass_g, **more)


def gross(mass_g: float, **more: object) -> Weighing:
    return Weighing("gross", mass_g, **more)


def test_an_ordinary_record_is_not_asked_about() -> None:
    assert codes(tare(50.0), gross(52.95), gross(52.94)) == []
    assert codes(tare(50.0)) == []
    assert codes() == []


@pytest.mark.parametrize(("weighings", "code"), [
    ((gross(52.95),), "tare-missing"),
    ((tare(52.95), gross(50.0)), "gross-below-tare"),
    ((tare(50.0), gross(64.01)), "more-than-charged"),
    ((tare(50.0), gross(52.951)), "too-many-decimals"),
    ((tare(50.0, flask_number="7"), gross(52.95, flask_number="8")), "another-flask"),
    ((tare(50.0), gross(52.95, on_pan=("flask", "stopper"))), "another-load"),
    ((tare(50.0, balance="1"), gross(52.95, balance="2")), "another-balance"),
    ((tare(50.0), gross(52.95), gross(52.92)), "not-constant"),
    ((tare(50.0), gross(52.95), gross(59.25)), "digits-crossed"),
])
def test_what_is_odd_is_asked_about_and_never_charged(
    weighings: tuple[Weighing, ...], code: str
) -> None:
    [question] = asked(*weighings)
    assert (question.code, question.question, question.charged, question.score_loss) == (
        code, True, False, 0.0)


@pytest.mark.parametrize("weighings", [
    (tare(50.0), gross(50.0)),
    (tare(50.0), gross(64.0)),
    (tare(50.0, readability_g=0.001), gross(52.951, readability_g=0.001)),
    (tare(50.0, flask_number="7"), gross(52.95, flask_number="7")),
    (tare(50.0, flask_number="7"), gross(52.95)),
    (tare(50.0, on_pan=("flask", "stopper")), gross(52.95, on_pan=("stopper", "flask"))),
    (tare(50.0, balance="1"), gross(52.95, balance="1")),
    (tare(50.0), gross(52.95), gross(52.93)),
    (tare(50.0), gross(53.95), gross(52.94), gross(52.95)),
])
def test_what_is_at_the_limit_is_not_asked_about(weighings: tuple[Weighing, ...]) -> None:
    assert codes(*weighings) == []


def test_parts_taken_out_count_against_what_was_put_in() -> None:
    part = SamplePart("kept for another test", 10.0, 12.0)
    assert codes(tare(50.0), gross(62.5), parts=(part,)) == ["more-than-charged"]
    assert codes(tare(50.0), gross(62.0), parts=(part,)) == []


def test_the_advice_fits_the_direction() -> None:
    [fell] = asked(tare(50.0), gross(56.93), gross(56.89))
    [rose] = asked(tare(50.0), gross(56.89), gross(56.93))
    assert "fell" in fell.message
    assert "solvent" in fell.change
    assert "rose" in rose.message
    assert "no solvent leaving" in rose.change
    assert "rest of the solvent" not in rose.change


def test_crossed_digits_are_named_with_both_readings() -> None:
    """64.58 and 65.48, as a student wrote them."""
    [question] = asked(tare(58.0), gross(64.58), gross(65.48))
    assert question.code == "digits-crossed"
    assert "64.58 and 65.48" in question.message


def test_two_flasks_are_asked_about_once() -> None:
    flasks = (tare(50.0, flask_number="7"), tare(40.0, flask_number="8"),
              gross(51.95, flask_number="7"), gross(41.0, flask_number="8"))
    assert codes(*flasks) == ["two-flasks"]


def test_a_skipped_step_that_must_have_been_done_is_asked_about_by_name() -> None:
    step = next(s for s in library_exercise("plain-ether").model_plan.steps if s.id == "filter")
    [question] = record_questions(Readings(), CHARGED_G, (step,))
    assert (question.code, question.step, question.question, question.charged) == (
        "skipped-but-needed", "filter", True, False)
    assert "Filter" in question.message


def test_an_amount_of_nothing_is_asked_about() -> None:
    [question] = record_questions(Readings(reagents={"a": 0.0, "b": 0.1}), CHARGED_G)
    assert (question.code, question.question, question.charged) == (
        "amount-of-nothing", True, False)
