"""What is measured is what is asked for: so many steps, so many substances, the same answer."""

from __future__ import annotations

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.run import simulate

from .chemistry import SAME_PH, layers, peak_MB
from .timing import Figure, exponent, turns
from .workloads import EIGHT, exercise_of, so_many_steps, twelve_steps


def test_the_plan_has_twelve_steps_and_the_mixture_eight_substances() -> None:
    assert len(twelve_steps().steps) == 12
    assert len(exercise_of(8).reaction.reagents) == len(EIGHT) == 8


def test_the_plan_keeps_the_phenol_and_washes_the_acid_out() -> None:
    run = simulate(twelve_steps(), exercise_of(8), Draws(1, 5))
    held = run.end.flasks["C"].total()
    assert held[run.inventory.index["phenol"], 0] > 4.0
    assert held[run.inventory.index["benzoic_acid"], 0] < 1.0


@pytest.mark.parametrize("steps", [4, 16])
def test_longer_plans_repeat_the_same_four_steps(steps: int) -> None:
    plan = so_many_steps(steps)
    assert [s.verb for s in plan.steps] == ["add", "add", "separate", "wash"] * (steps // 4)
    assert simulate(plan, exercise_of(2), Draws(0, 1)).outcomes[-1].step is plan.steps[-1]


def test_brentq_on_plain_floats_finds_the_same_pH() -> None:
    shaken = layers(12)
    found = shaken.solve()
    assert [shaken.solve_scalar(i) for i in range(12)] == pytest.approx(list(found), abs=SAME_PH)


def test_a_mixture_can_have_sixty_four_substances_but_not_any_number() -> None:
    assert len({r.substance for r in exercise_of(64).reaction.reagents}) == 64
    with pytest.raises(ValueError, match="only"):
        exercise_of(500)


def test_the_exponent_of_a_square_is_two() -> None:
    assert exponent([1.0, 2.0, 4.0], [3.0, 12.0, 48.0]) == pytest.approx(2.0)


def test_times_are_taken_by_turns_and_the_shortest_kept() -> None:
    order: list[str] = []
    times = turns(lambda: order.append("a"), lambda: order.append("b"), repeats=2)
    assert order == ["a", "b", "a", "b"]
    assert all(0.0 <= t < 1.0 for t in times)


def test_a_figure_says_whether_it_holds() -> None:
    assert "FALLS SHORT" in Figure("x", 2.0, 1.0).line()
    assert "holds" in Figure("x", 2.0, 1.0, at_least=True).line()


def test_the_peak_is_that_of_this_process() -> None:
    assert 20.0 < peak_MB(10) < 4000.0
