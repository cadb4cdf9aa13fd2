"""A run cut to its first draws is the run with fewer draws, to the last bit of everything."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from workups.chemistry.cut import first_draws
from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.run import Run, continue_run, prepare
from workups.documents import library_exercise, library_names


def same(one: Any, other: Any, where: str) -> None:
    """Equal in every array, mapping, tuple and dataclass within."""
    assert type(one) is type(other), where
    if isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other, err_msg=where)
    elif isinstance(one, Mapping):
        assert list(one) == list(other), where
        for name in one:
            same(one[name], other[name], f"{where}.{name}")
    elif isinstance(one, tuple):
        assert len(one) == len(other), where
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            same(a, b, f"{where}.{number}")
    elif is_dataclass(one):
        for field in fields(one):
            same(getattr(one, field.name), getattr(other, field.name), f"{where}.{field.name}")
    else:
        assert one == other, where


@pytest.mark.parametrize("name", library_names())
def test_a_run_cut_to_its_first_draws_is_the_run_with_fewer_draws(name: str) -> None:
    exercise = library_exercise(name)
    many, few = (prepare(exercise.setup, Draws(5, count)) for count in (24, 5))
    for plan in (exercise.model_plan, *exercise.alternatives):
        cut, run = first_draws(continue_run(many, plan), few), continue_run(few, plan)
        same(cut.start, run.start, "start")
        for one, other in zip(cut.outcomes, run.outcomes, strict=True):
            same(one, other, one.step.id)


def test_what_both_runs_begin_with_is_taken_over() -> None:
    exercise = library_exercise("plain-ether")
    plan = exercise.model_plan
    few = continue_run(prepare(exercise.setup, Draws(5, 2)), plan)
    run: Run = continue_run(prepare(exercise.setup, Draws(5, 4)), Plan(plan.steps[:-2]))
    assert first_draws(run, few).outcomes == few.outcomes[:-2]
