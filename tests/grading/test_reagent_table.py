"""The reagent table of the shipped ester exercise, judged answer by answer.

Right values by hand: 1-hexanol C6H14O 102.18 g/mol, 5.11 g -> 50.0 mmol; acetic acid 60.05 g/mol,
9.01 g -> 150 mmol; hexyl acetate C8H16O2 144.21 g/mol, 50.0 mmol -> 7.21 g (IUPAC standard atomic
weights, rounded).
"""

import pytest

from workups.chemistry.tables import tables
from workups.documents import library_exercise
from workups.grading.reagent_table import (
    AMOUNT,
    LIMITING,
    MOLAR_MASS,
    THEORETICAL,
    LineAnswers,
    NotANumber,
    check_of,
    judge_answers,
    read_number,
    reagent_lines,
)

HEXANOL, ACID, ESTER = "1_hexanol", "acetic_acid", "hexyl_acetate"
RIGHT = {
    HEXANOL: LineAnswers("102.18", "50.0", "", limiting=True),
    ACID: LineAnswers("60.05", "150.0"),
    ESTER: LineAnswers("144.21", "", "7.21"),
}


@pytest.fixture(scope="module")
def lines():
    return reagent_lines(library_exercise("too-much-vinegar"), tables())


def judged(lines, **changes):
    return judge_answers(lines, {**RIGHT, **changes}).verdicts


def test_a_catalyst_is_not_asked_about_and_the_product_is_asked_for_its_yield(lines):
    asks = {line.key: line.asks for line in lines}
    assert asks == {
        HEXANOL: (MOLAR_MASS, AMOUNT),
        ACID: (MOLAR_MASS, AMOUNT),
        "sulfate": (),
        ESTER: (MOLAR_MASS, THEORETICAL),
    }


def test_right_answers_are_right_without_a_remark(lines):
    verdicts = judged(lines)
    assert {v.right for v in verdicts.values()} == {True}
    assert {v.message for v in verdicts.values()} == {""}
    assert len(verdicts) == 7


def test_a_wrong_molar_mass_is_charged_once(lines):
    """With 62 g/mol for the acid, 9.01 g are 145.3 mmol: right from there on."""
    verdicts = judged(lines, **{ACID: LineAnswers("62", "145.3")})
    assert verdicts[ACID, MOLAR_MASS].right is False
    assert verdicts[ACID, AMOUNT].right is True
    assert "your numbers above" in verdicts[ACID, AMOUNT].message


def test_a_wrong_amount_is_carried_into_the_theoretical_yield(lines):
    """45.0 mmol of alcohol would give 6.49 g of ester."""
    verdicts = judged(
        lines,
        **{
            HEXANOL: LineAnswers("102.18", "45.0", limiting=True),
            ESTER: LineAnswers("144.21", "", "6.49"),
        },
    )
    assert verdicts[HEXANOL, AMOUNT].right is False
    assert verdicts[ESTER, THEORETICAL].right is True


@pytest.mark.parametrize(("amount", "words"), [("0.0500", "too small"), ("50000", "too large")])
def test_a_factor_of_a_thousand_points_to_the_unit(lines, amount, words):
    verdict = judged(lines, **{HEXANOL: LineAnswers("102.18", amount)})[HEXANOL, AMOUNT]
    assert verdict.right is False
    assert words in verdict.message
    assert "mmol" in verdict.message


@pytest.mark.parametrize("typed", ["50", "50.0", "50,0", "50.0 mmol", "0.0500 mol", "50.01"])
def test_commas_units_and_rounding_do_not_make_an_answer_wrong(lines, typed):
    assert judged(lines, **{HEXANOL: LineAnswers("102.18", typed)})[HEXANOL, AMOUNT].right is True


def test_too_few_figures_are_remarked_on(lines):
    verdict = judged(lines, **{ESTER: LineAnswers("144.21", "", "7")})[ESTER, THEORETICAL]
    assert verdict.right is True
    assert "significant figures" in verdict.message


def test_the_reagent_in_excess_does_not_limit(lines):
    verdicts = judged(
        lines,
        **{HEXANOL: LineAnswers("102.18", "50.0"), ACID: LineAnswers("60.05", "150", "", True)},
    )
    assert verdicts[LIMITING, LIMITING].right is False
    assert "acetic acid" in verdicts[LIMITING, LIMITING].message


def test_what_is_not_answered_is_neither_right_nor_wrong(lines):
    judgement = judge_answers(lines, {})
    assert {v.right for v in judgement.verdicts.values()} == {None}
    assert judgement.score == 0
    assert not judgement.is_answered


@pytest.mark.parametrize("typed", ["about 50", "fifty", "-3", "0", "1e9", "50 g", "5.0.0"])
def test_what_is_no_amount_is_refused_with_words(typed):
    with pytest.raises(NotANumber):
        read_number(typed, AMOUNT)


def test_points_follow_the_share_of_right_answers(lines):
    """Six of seven answers right, of 10 points: 8.57, rounded once."""
    judgement = judge_answers(lines, {**RIGHT, ACID: LineAnswers("62", "145.3")})
    check = check_of(judgement, 10.0)
    assert check.points == 8.6
    assert check.score == pytest.approx(6 / 7, abs=1e-12)
    assert check.note.startswith("6 of 7")


def test_what_is_right_in_itself_is_right_after_a_slip_above(lines):
    """A slip of unit in the amount does not take away the theoretical yield of 7.21 g."""
    verdicts = judged(lines, **{HEXANOL: LineAnswers("102.18", "0.0500", limiting=True)})
    assert verdicts[HEXANOL, AMOUNT].right is False
    assert verdicts[ESTER, THEORETICAL].right is True
    assert verdicts[ESTER, THEORETICAL].message == ""
