"""From findings to scores and points.

A check's score is 1 minus what it lost, never below 0. Its points are rounded once, to tenths, half
a tenth up; what its findings cost is shared out in tenths; every total is a sum of such points. So
what is stored is what is shown, and what is shown adds up.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from workups.exercise.exercise import Exercise

from .assessment import CheckResult, Finding

ROUNDED = "Points are rounded to tenths, check by check; sums are sums of what stands here."
TENTH = Decimal("0.1")


def tenths(points: float) -> float:
    """Points as they are stored, shown and added up.

    >>> tenths(9.25), tenths(9.2499), tenths(-0.05)
    (9.3, 9.2, -0.1)
    """
    return float(Decimal(repr(float(points))).quantize(TENTH, rounding=ROUND_HALF_UP))


def shared_out(points: float, weights: Sequence[float]) -> list[float]:
    """Points in tenths by weight, so that they add up: what is over goes to the largest remainders.

    >>> shared_out(1.0, (1, 1, 1)), shared_out(0.7, (0.0, 0.0))
    ([0.4, 0.3, 0.3], [0.0, 0.0])
    """
    whole, total = round(points * 10), sum(weights)
    if total <= 0:
        return [0.0] * len(weights)
    exact = [whole * w / total for w in weights]
    parts = [int(e) for e in exact]
    by_remainder = sorted(range(len(parts)), key=lambda i: parts[i] - exact[i])
    for i in by_remainder[:whole - sum(parts)]:
        parts[i] += 1
    return [part / 10 for part in parts]


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
    return CheckResult(name, value, tenths(value * out_of), out_of, tuple(findings), note)
