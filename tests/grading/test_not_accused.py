"""Sensible plans are never accused: a false accusation is the worst fault a check can have."""

from __future__ import annotations

import pytest

from workups.grading.assess import assess

from .planted import DRAWS, HEAVY, assessed, check, exercise, findings

HARMLESS = ("model", "extra-water-wash", "second-brine", "early-and-late-brine", "four-portions",
            "three-portions", "two-half-bicarbonates", "decanted", "tare-afterwards", "tared-vial")


@pytest.mark.parametrize("plan", HARMLESS)
def test_a_harmless_variation_loses_no_points(plan: str) -> None:
    result = assessed(plan)
    assert [f.code for f in findings(result) if f.charged] == []
    assert [f.code for f in findings(result) if f.strength in HEAVY] == []
    assert all(c.score == 1.0 for c in result.checks)


@pytest.mark.parametrize("number", range(len(exercise().alternatives)))
def test_the_exercises_own_alternatives_lose_no_points(number: int) -> None:
    ours = exercise()
    result = assess(ours, ours.alternatives[number], draws=DRAWS)
    assert [f.code for f in findings(result) if f.charged] == []


def test_readings_as_planned_get_full_yield_points() -> None:
    result = assessed("model", "as-planned")
    assert check(result, "yield").score == 1.0
    assert result.readings[0].in_done_band == "inside"
