"""Numbers as people read them. Expected texts are written out by hand."""

import pytest
from django.template.defaultfilters import floatformat
from hypothesis import given
from hypothesis import strategies as st

from workups.words import numbers
from workups.words.numbers import NBSP


def text(value: str) -> str:
    return value.replace(NBSP, " ")


@pytest.mark.parametrize(
    ("value", "decimals", "expected"),
    [
        (5.9, 2, "5.90"),
        (-0.004, 2, "0.00"),
        (-1.5, 1, "−1.5"),
        (1234.4, -2, "1200"),
        (0, 3, "0.000"),
        (9.85, 1, "9.9"),
        (-9.85, 1, "−9.9"),
        (0.125, 2, "0.13"),
        (2.675, 2, "2.68"),
        (1e300, 1, "1" + 300 * "0" + ".0"),
        (5e-324, 2, "0.00"),
        (float("inf"), 1, "inf"),
    ],
)
def test_fixed_keeps_the_decimals_asked_for(value: float, decimals: int, expected: str) -> None:
    assert numbers.fixed(value, decimals) == expected


@given(st.integers(-(10**7), 10**7))
def test_a_number_reads_the_same_in_a_template_and_in_a_sentence(hundredths: int) -> None:
    value = hundredths / 100
    shown = numbers.fixed(value, 1).replace(numbers.MINUS, "-")
    assert shown == floatformat(value, "1u").replace("-0.0", "0.0")


@pytest.mark.parametrize(
    ("value", "digits", "expected"),
    [
        (0.05678, 3, "0.0568"),
        (218.6, 3, "219"),
        (2600.0, 2, "2600"),
        (9.996, 3, "10.0"),
        (0.0, 3, "0"),
        (99.96, 3, "100"),
    ],
)
def test_significant_figures_never_use_an_exponent(
    value: float, digits: int, expected: str
) -> None:
    assert numbers.significant(value, digits) == expected


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (25.0, "25"),
        (0.5, "0.5"),
        (8.25, "8.25"),
        (100.0, "100"),
        (0.1 + 0.2, "0.3"),
        (1000000.0, "1000000"),
    ],
)
def test_an_amount_reads_as_it_was_typed(value: float, expected: str) -> None:
    assert numbers.plain(value) == expected


@pytest.mark.parametrize(
    ("readability", "expected"),
    [
        (1.0, 0),
        (0.1, 1),
        (0.01, 2),
        (0.001, 3),
        (0.0001, 4),
        (0.005, 3),
        (0.02, 2),
    ],
)
def test_the_balance_sets_the_decimals(readability: float, expected: int) -> None:
    assert numbers.balance_decimals(readability) == expected


@pytest.mark.parametrize(
    ("share", "expected"),
    [
        (0.0, "0 %"),
        (0.002, "under 1 %"),
        (0.093, "9 %"),
        (0.5, "50 %"),
        (0.996, "over 99 %"),
        (1.0, "100 %"),
        (1.28, "128 %"),
    ],
)
def test_a_share_is_never_rounded_to_nothing_or_to_all(share: float, expected: str) -> None:
    assert text(numbers.percent(share)) == expected


@pytest.mark.parametrize(
    ("value", "uncertainty", "unit", "expected"),
    [
        (5.9412, 0.0147, "g", "5.941 ± 0.015 g"),
        (82.437, 0.31, "%", "82.4 ± 0.3 %"),
        (82.437, 0.0, "%", "82.4 %"),
        (5.9412, 0.0996, "g", "5.94 ± 0.10 g"),
        (1234.0, 31.0, "mL", "1230 ± 30 mL"),
    ],
)
def test_value_and_uncertainty_end_at_the_same_decimal(
    value: float, uncertainty: float, unit: str, expected: str
) -> None:
    assert text(numbers.with_uncertainty(value, uncertainty, unit)) == expected


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (5.872, 6.911, "5.9 to 6.9 g"),
        (0.11, 0.17, "0.110 to 0.170 g"),
        (2.0, 2.0, "2.00 to 2.00 g"),
    ],
)
def test_the_ends_of_a_range_carry_the_same_decimals(
    low: float, high: float, expected: str
) -> None:
    assert text(numbers.interval(low, high, "g")) == expected


@pytest.mark.parametrize(
    ("minutes", "expected"),
    [
        (0.5, "0.5 min"),
        (10, "10 min"),
        (119, "119 min"),
        (120, "2 h"),
        (2880, "2 days"),
        (10080, "7 days"),
        (5000, "3.5 days"),
    ],
)
def test_long_times_are_given_in_hours_and_days(minutes: float, expected: str) -> None:
    assert text(numbers.duration(minutes)) == expected


def test_repetition_is_told_in_words() -> None:
    assert [numbers.times(n) for n in (0, 1, 2, 3)] == ["", "", "twice", "three times"]
    assert text(numbers.times(9)) == "9 times"


def test_a_list_reads_as_in_a_sentence() -> None:
    assert [numbers.joined(list("abc"[:n])) for n in range(4)] == ["", "a", "a and b", "a, b and c"]
