"""Percentiles are those of numpy to the last bit; a run is asked the same about a target once."""

from __future__ import annotations

import math

import numpy as np
import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.measures import measure
from workups.chemistry.run import simulate
from workups.chemistry.sums import percentile
from workups.documents import library_exercise


@pytest.mark.parametrize("count", [1, 2, 3, 48, 500])
def test_a_percentile_is_that_of_numpy_to_the_last_bit(count: int) -> None:
    random = np.random.default_rng(count)
    for power in range(-12, 7):
        values = random.normal(size=count) * 10.0**power
        for percent in (0.0, 5.0, 50.0, 95.0, 100.0):
            assert percentile(values, percent) == float(np.percentile(values, percent))


def test_of_what_is_no_number_a_percentile_is_none() -> None:
    assert math.isnan(percentile(np.array([1.0, math.nan, 2.0]), 5.0))


def test_a_run_is_measured_once_and_another_run_anew() -> None:
    exercise = library_exercise("plain-ether")
    run, other = (simulate(exercise.model_plan, exercise.setup, Draws(seed, 2)) for seed in (1, 2))
    (target,) = (t.substance for t in exercise.setup.targets)
    assert measure(run, target) is measure(run, target)
    assert measure(other, target).mass_g[1] != measure(run, target).mass_g[1]
