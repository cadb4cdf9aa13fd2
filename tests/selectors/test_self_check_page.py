"""What a self-check comes to in a sentence, and in which order it is told."""

import dataclasses

from workups.grading.assessment import Finding, Strength
from workups.grading.points.charges import code_of
from workups.selectors.self_checks import changes_since, met_words, remarks_of, verdict_of
from workups.selectors.student_findings import (
    PlaceLine,
    ProductPlaces,
    StudentCheck,
    StudentFinding,
)


def found(
    code: str, strength: Strength, loss: float = 0.0, *, check: str = "order", step: int = 1
) -> StudentFinding:
    finding = Finding(
        code, check, strength, f"s{step}", "It happens.", "Do it.", "Why.", "source",
        charged=loss > 0, score_loss=loss)
    return StudentFinding(finding, step, "Wash", (), shows_change=False)


def check(name: str, *findings: StudentFinding, is_met: bool | None = None) -> StudentCheck:
    met = not any(f.finding.charged for f in findings) if is_met is None else is_met
    return StudentCheck(name, met, findings, None, 20.0)


def arrives(name: str, words: str) -> ProductPlaces:
    line = PlaceLine("vial", None, "", "", 0.5, words, "", is_weighed=True)
    return ProductPlaces(name, (line, dataclasses.replace(line, is_weighed=False)))


HOLD = found("acid-meets-bleach", Strength.SAFETY_HOLD, check="layers_safety")
LOSS = found("wrong-layer-kept", Strength.PRODUCT_LOSS, 0.8)
SMALL = found("no-brine", Strength.ADVICE, 0.1, check="drying", step=4)
FOLLOWS = found(code_of("not there"), Strength.PRODUCT_LOSS, 1.0, check="extraction")


def test_a_hold_comes_before_all_else() -> None:
    verdict = verdict_of([check("order", LOSS), check("layers_safety", HOLD)], [])
    assert verdict.words.startswith("Not to the bench like this: a safety hold.")
    assert verdict.note_class == "hold"


def test_what_is_not_met_is_named_and_how_much_arrives() -> None:
    verdict = verdict_of(
        [check("order", LOSS), check("drying", SMALL), check("layers_safety")],
        [arrives("lidocaine", "1 %"), arrives("cinnamic acid", "93 %")])
    assert verdict.words == "Not yet: order of steps and drying."
    assert verdict.arrives == "On the balance: 1 % of lidocaine and 93 % of cinnamic acid."
    assert verdict.note_class == "loss"


def test_a_plan_that_meets_every_check_is_told_so_in_one_sentence() -> None:
    verdict = verdict_of([check("order"), check("drying")], [arrives("x", "96 %")])
    assert verdict.words.startswith("Every check is met")
    assert verdict.arrives == "On the balance: 96 % of the product."


def test_a_policy_that_says_nothing_is_not_told_as_all_met() -> None:
    silent = StudentCheck("order", None, (), None, 20.0)
    assert "met" not in verdict_of([silent], []).words


def test_the_heaviest_comes_first_and_what_follows_from_it_is_told_with_it() -> None:
    remarks = remarks_of([
        check("drying", SMALL), check("extraction", FOLLOWS), check("order", LOSS),
        check("layers_safety", HOLD)])
    assert [r.found for r in remarks] == [HOLD, LOSS, SMALL]
    assert [r.checks for r in remarks] == [
        ("Layers and safety",), ("Order of steps", "Extraction"), ("Drying",)]


def test_what_has_no_cause_beside_it_is_not_swallowed() -> None:
    assert [r.found for r in remarks_of([check("extraction", FOLLOWS)])] == [FOLLOWS]


def test_what_has_changed_since_the_check_before_is_told_by_its_title() -> None:
    changes = changes_since(
        2, [check("order", LOSS), check("drying", SMALL)],
        [check("drying", SMALL), check("layers_safety", HOLD)])
    assert (len(changes.mended), len(changes.new), len(changes.still)) == (1, 1, 1)
    assert changes.before == 2


def test_a_check_is_met_only_for_products_that_arrive() -> None:
    there = arrives("cinnamic acid", "93 %")
    lost = dataclasses.replace(there, name="lidocaine", lines=(there.lines[1],))
    assert met_words(check("drying"), [there]) == "met"
    assert met_words(check("drying"), [there, lost]) == "met for cinnamic acid"
    assert met_words(check("drying"), [lost]) == "not put to the test"
    assert met_words(check("layers_safety"), [there, lost]) == "met"
