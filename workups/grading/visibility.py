"""What a student may see of an assessment, and when: decided here and nowhere else.

Before readings are locked a student sees neither the model plan nor any expected mass, and no
number from which a yield could be worked back. Findings then speak in percentages of what is
present; gas, pressure and filling are always shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from .assessment import (
    CheckResult,
    Finding,
    Number,
    PhaseReport,
    StepReport,
    Strength,
    TrailShare,
)
from .exercise import FeedbackPolicy


class Moment(StrEnum):
    """Where a student stands: planning, readings locked but not released, released."""

    PLANNING = "planning"
    LOCKED = "locked"
    RELEASED = "released"


@dataclass(frozen=True)
class ShownCheck:
    """A check as a student sees it. ``met`` is None where the policy hides even that."""

    name: str
    met: bool | None
    findings: tuple[Finding, ...]
    points: float | None
    out_of: float


GRAM_UNITS = frozenset({"g", "mg", "mmol"})
DIAGNOSIS_SHOWN = frozenset({Moment.RELEASED})


def _harmless(number: Number) -> bool:
    return not number.reveals_yield and number.unit not in GRAM_UNITS


def shown_finding(finding: Finding, moment: Moment) -> Finding:
    """A finding with only the numbers that may be seen at this moment."""
    if moment is not Moment.PLANNING:
        return finding
    return replace(finding, numbers=tuple(n for n in finding.numbers if _harmless(n)))


def shown_checks(
    checks: tuple[CheckResult, ...], policy: FeedbackPolicy, moment: Moment
) -> tuple[ShownCheck, ...]:
    """Checks as the feedback policy allows. Safety holds are always shown."""
    return tuple(
        _shown(c, policy, moment) for c in checks if c.name != "yield" or moment is Moment.RELEASED
    )


def _shown(check: CheckResult, policy: FeedbackPolicy, moment: Moment) -> ShownCheck:
    if moment is Moment.RELEASED:
        return ShownCheck(
            check.name, check.score >= 1.0, check.findings, check.points, check.out_of
        )
    holds = tuple(
        shown_finding(f, moment) for f in check.findings if f.strength is Strength.SAFETY_HOLD
    )
    if moment is Moment.LOCKED or policy.detail == "nothing":
        return ShownCheck(check.name, None, holds, None, check.out_of)
    met = not any(f.charged for f in check.findings)
    if policy.detail == "which checks":
        return ShownCheck(check.name, met, holds, None, check.out_of)
    findings = tuple(shown_finding(f, moment) for f in check.findings)
    return ShownCheck(check.name, met, findings, None, check.out_of)


def shown_step(step: StepReport, moment: Moment) -> StepReport:
    """A step's picture: shares of what is present before the lock, grams after release."""
    if moment is Moment.RELEASED:
        return step
    trail = tuple(replace(t, mass_g=0.0) for t in step.trail)
    phases = tuple(replace(p, amounts_mmol=()) for p in step.phases)
    return replace(step, trail=_coarse(trail), phases=phases)


def _coarse(trail: tuple[TrailShare, ...]) -> tuple[TrailShare, ...]:
    """Shares to whole per cent: enough to learn from, too coarse to weigh by."""
    return tuple(replace(t, share=coarse(t.share)) for t in trail)


def coarse(share: float) -> float:
    """A share (0..1) to whole per cent, as it is shown before the lock."""
    return round(share, 2)


def may_see_expected(moment: Moment) -> bool:
    """Whether expected masses, bands, the model plan and the diagnosis may be seen."""
    return moment is Moment.RELEASED


__all__ = [
    "Moment",
    "PhaseReport",
    "ShownCheck",
    "coarse",
    "may_see_expected",
    "shown_checks",
    "shown_finding",
    "shown_step",
]
