"""Round ticks on a linear scale."""

import pytest

from workups.sheets.axis import Scale, decimals_of_step, round_step


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.6, 1.0, [0.6, 0.7, 0.8, 0.9, 1.0]),
        (5.4, 7.3, [5.5, 6.0, 6.5, 7.0]),
        (0.0, 100.0, [0, 20, 40, 60, 80, 100]),
        (0.11, 0.172, [0.12, 0.14, 0.16]),
    ],
)
def test_ticks_are_round_and_inside(low: float, high: float, expected: list[float]) -> None:
    assert Scale(low, high, 0, 1).ticks(6) == pytest.approx(expected)


def test_a_scale_maps_its_ends_onto_its_ends() -> None:
    scale = Scale(5, 7, 100, 300)
    assert [scale(v) for v in (5, 6, 7)] == [100, 200, 300]


@pytest.mark.parametrize("span", [0.013, 0.4, 1.0, 3.3, 97.0, 1e4])
def test_a_step_gives_neither_too_many_nor_too_few_ticks(span: float) -> None:
    assert 2 <= span / round_step(span, 6) <= 5


@pytest.mark.parametrize(("step", "decimals"), [(0.5, 1), (0.02, 2), (1, 0), (20, 0)])
def test_ticks_carry_the_decimals_they_need(step: float, decimals: int) -> None:
    assert decimals_of_step(step) == decimals
