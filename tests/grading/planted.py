"""Reads the planted plans and readings of ``tests/data`` and assesses them once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

from workups.chemistry.quantity import Quantity
from workups.documents import library_exercise, load_plan, load_readings
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, CheckResult, Finding, Strength

DATA = Path(__file__).parent.parent / "data"
DRAWS = 120
HEAVY = (Strength.PRODUCT_LOSS, Strength.SAFETY_HOLD)


def exercise() -> Exercise:
    """The library exercise the planted plans are written for."""
    return library_exercise("too-much-vinegar")


def polar_product_exercise() -> Exercise:
    """The same exercise with a product that prefers water more (K 4), so that one portion of
    solvent is not enough."""
    own = Quantity(0.60, "1", 0.05, "made up for the test", "P")
    base = exercise()
    values = {**base.setup.values, "log10_K:hexyl_acetate:mtbe": own}
    return replace(base, setup=replace(base.setup, values=values))


@cache
def assessed(plan: str, readings: str = "") -> Assessment:
    """Assessment of a planted plan, with planted readings if named."""
    records = load_readings((DATA / "readings" / f"{readings}.toml").read_text()) if (
        readings) else None
    return assess(exercise(), load_plan((DATA / "plans" / f"{plan}.toml").read_text()), records,
                  draws=DRAWS)


def check(assessment: Assessment, name: str) -> CheckResult:
    """One check of an assessment."""
    return next(c for c in assessment.checks if c.name == name)


def findings(assessment: Assessment) -> list[Finding]:
    """All findings of an assessment."""
    return [f for c in assessment.checks for f in c.findings]


def finding(assessment: Assessment, code: str) -> Finding:
    """The finding with a code; fails if there is none."""
    found = [f for f in findings(assessment) if f.code == code]
    assert found, f"no finding {code!r} among {[f.code for f in findings(assessment)]}"
    return found[0]


def number(found: Finding, name: str) -> float:
    """The value of a finding's number."""
    return next(n.value for n in found.numbers if n.name == name)
