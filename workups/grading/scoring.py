"""From findings to scores: a check's score is 1 minus what it lost, never below 0."""

from __future__ import annotations

from collections.abc import Sequence

from .assessment import CheckResult, Finding
from .exercise import Exercise


def score_of(findings: Sequence[Finding]) -> float:
    """1 minus the losses charged, at least 0."""
    return max(0.0, 1.0 - sum(f.score_loss for f in findings if f.charged))


def check_result(
    exercise: Exercise,
    name: str,
    findings: Sequence[Finding],
    note: str = "",
    score: float | None = None,
) -> CheckResult:
    """A check with its points by the rubric."""
    out_of = float(exercise.rubric.points.get(name, 0.0))
    value = score_of(findings) if score is None else score
    return CheckResult(name, value, round(value * out_of, 2), out_of, tuple(findings), note)
