"""What a student may see of an assessment, and when: decided here and nowhere else.

Before release a student sees nothing of an assessment but one computed with public numbers
(``public.py``): any other is refused here, so that no share, volume or picture can carry what is
hidden. What is left out besides, grams and amounts of product, is left out of public assessments
too: a mass to aim at, if only a made-up one, breeds made-up readings. Gas, pressure and filling
are always shown.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from workups.exercise.exercise import FeedbackPolicy

from .assessment import (
    Assessment,
    CheckResult,
    Finding,
    LedgerLine,
    Number,
    StepReport,
    Strength,
)


class Moment(StrEnum):
    """Where a student stands: planning, readings locked but not released, released."""

    PLANNING = "planning"
    LOCKED = "locked"
    RELEASED = "released"


@dataclass(frozen=True)
class ShownCheck:
    """A check as a student sees it. ``met``: it has all its points, and no hold; None where the
    policy hides even that."""

    name: str
    met: bool | None
    findings: tuple[Finding, ...]
    points: float | None
    out_of: float


GRAM_UNITS = frozenset({"g", "mg", "mmol"})


class ComputedFromHidden(Exception):
    """An assessment with an exercise's own numbers was about to be shown before release."""


def _require_public(assessment: Assessment, moment: Moment) -> None:
    if moment is not Moment.RELEASED and not assessment.public_numbers:
        raise ComputedFromHidden(assessment.exercise)


def _harmless(number: Number) -> bool:
    return not number.reveals_yield and number.unit not in GRAM_UNITS


def shown_finding(finding: Finding, moment: Moment) -> Finding:
    """A finding with only the numbers that may be seen at this moment."""
    if moment is not Moment.PLANNING:
        return finding
    return replace(finding, numbers=tuple(n for n in finding.numbers if _harmless(n)))


def shown_checks(
    assessment: Assessment, policy: FeedbackPolicy, moment: Moment
) -> tuple[ShownCheck, ...]:
    """Checks as the feedback policy allows. Safety holds are always shown.

    Raises ComputedFromHidden before release for an assessment with hidden numbers.
    """
    _require_public(assessment, moment)
    return tuple(
        _shown(c, policy, moment)
        for c in assessment.checks
        if c.name != "yield" or moment is Moment.RELEASED
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
    met = not holds and (check.score >= 1.0 or 0 < check.out_of <= check.points)
    if policy.detail == "which checks":
        return ShownCheck(check.name, met, holds, None, check.out_of)
    findings = tuple(shown_finding(f, moment) for f in check.findings)
    return ShownCheck(check.name, met, findings, None, check.out_of)


def shown_steps(assessment: Assessment, moment: Moment) -> tuple[StepReport, ...]:
    """What the steps did, for pictures and labels; without grams of product before release.

    Raises ComputedFromHidden before release for an assessment with hidden numbers.
    """
    _require_public(assessment, moment)
    if moment is Moment.RELEASED:
        return assessment.steps
    return tuple(
        replace(step, trail=tuple(replace(t, mass_g=0.0) for t in step.trail))
        for step in assessment.steps
    )


def shown_ledger(assessment: Assessment, moment: Moment) -> tuple[LedgerLine, ...]:
    """Where the product is, in shares of what there was.

    Raises ComputedFromHidden before release for an assessment with hidden numbers.
    """
    _require_public(assessment, moment)
    return assessment.ledger


def may_see_expected(moment: Moment) -> bool:
    """Whether expected masses, bands, the model plan and the diagnosis may be seen."""
    return moment is Moment.RELEASED
