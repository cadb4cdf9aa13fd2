"""A report as the person sees who marks it: everything, and what each finding cost."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from workups.grading.assessment import CheckResult, Finding, Strength
from workups.grading.finding_titles import finding_title
from workups.grading.points.charges import ledger_titles
from workups.grading.rule import RULES
from workups.grading.scoring import shared_out, tenths
from workups.grading.visibility import Moment
from workups.models import (
    AssessmentSnapshot,
    PointAdjustment,
    Remark,
    Review,
    ReviewComment,
    Work,
)
from workups.selectors.marks import CheckMark, marks_of, points_given
from workups.selectors.student_findings import StudentFinding, student_findings


@dataclass(frozen=True)
class StaffFinding:
    """A finding with its cost in points, what overruling gives, and its rule's page.

    `cost` is its part of what the check lost: the costs of a check sum to its loss. `without` is
    what the check would have without this finding, None where it cost nothing: by the check's own
    rule, or what it cost given back where the rule cannot say. It gives back less than the cost
    where other findings take the same points. `overruled` is the adjustment that overruled it.
    `elsewhere` are the titles of other checks that the same cause took points from, with what
    overruling it gives back there.
    """

    shown: StudentFinding
    cost: float
    without: Decimal | None
    rule_code: str
    overruled: PointAdjustment | None
    gives_back: float | None = None
    elsewhere: tuple[tuple[str, float], ...] = ()

    @property
    def finding(self) -> Finding:
        return self.shown.finding

    @property
    def title(self) -> str:
        return finding_title(self.finding.code)

    @property
    def gives_back_less(self) -> bool:
        """Whether other findings take the same points, so that overruling this returns less."""
        return self.gives_back is not None and self.gives_back < self.cost - 0.05


@dataclass(frozen=True)
class StaffCheck:
    """A check of a report with its findings and what was changed by hand."""

    mark: CheckMark
    findings: tuple[StaffFinding, ...]

    @property
    def name(self) -> str:
        return self.mark.check.name

    @property
    def costly(self) -> list[StaffFinding]:
        """The findings that took points, those that took most first."""
        taking = [found for found in self.findings if found.cost > 0]
        return sorted(taking, key=lambda found: -found.cost)


def of_one_cause(
    marks: Iterable[CheckMark], check: str, finding: Finding
) -> list[tuple[CheckMark, Finding]]:
    """What the cause of a finding took from other checks and nobody overruled yet."""
    return [
        (mark, other)
        for mark in marks if mark.check.name != check
        for other in mark.check.findings
        if other.cause == finding.cause and other.charged and other.score_loss > 0
        and not any(_overrules(a, other) for a in mark.adjustments)
    ] if finding.cause and finding.charged else []


def given_back(mark: CheckMark, finding: Finding) -> float:
    """What a check gets back when a finding is overruled, in tenths."""
    without = points_overruled(mark.check, finding)
    if without is None:
        return 0.0
    given = points_given(without, float(mark.by_hand), mark.check.out_of)
    return max(0.0, tenths(given - mark.points))


def staff_checks(work: Work, snapshot: AssessmentSnapshot) -> list[StaffCheck]:
    marks = marks_of(work)
    return _staff_checks(marks.checks, snapshot) if marks else []


def untouched_checks(snapshot: AssessmentSnapshot) -> list[StaffCheck]:
    """The checks as computed, without anything done by hand."""
    marks = [CheckMark(check, ()) for check in snapshot.to_core().checks]
    return _staff_checks(marks, snapshot)


def _staff_checks(
    marks: Iterable[CheckMark], snapshot: AssessmentSnapshot
) -> list[StaffCheck]:
    plan = snapshot.plan_revision.to_core()
    marks, checks = list(marks), []
    for mark in marks:
        shown = student_findings(mark.check.findings, plan, Moment.RELEASED)
        costs = costs_of(mark.check)
        findings = [
            _staff_finding(found, cost, mark, marks)
            for found, cost in zip(shown, costs, strict=True)
        ]
        checks.append(StaffCheck(mark, tuple(sorted(findings, key=_weight))))
    return checks


def _weight(found: StaffFinding) -> tuple[bool, float]:
    """Holds first, then what took most points: what a reader sees first is what to mend first."""
    return found.shown.finding.strength is not Strength.SAFETY_HOLD, -found.cost


def _staff_finding(
    shown: StudentFinding, cost: float, mark: CheckMark, marks: Iterable[CheckMark]
) -> StaffFinding:
    finding, check = shown.finding, mark.check
    without = points_overruled(check, finding)
    by_hand = float(mark.by_hand)
    return StaffFinding(
        shown=shown,
        cost=cost,
        without=(
            None
            if without is None
            else Decimal(f"{points_given(without, by_hand, check.out_of):.1f}")
        ),
        rule_code=finding.code if finding.code in RULES else "",
        overruled=next((a for a in mark.adjustments if _overrules(a, finding)), None),
        gives_back=None if without is None else max(0.0, tenths(without - mark.computed)),
        elsewhere=tuple((other.title, given_back(other, part))
                        for other, part in of_one_cause(marks, check.name, finding)),
    )


def _overrules(adjustment: PointAdjustment, finding: Finding) -> bool:
    return bool(adjustment.finding_code) and (
        adjustment.finding_code,
        adjustment.step_id,
    ) == (finding.code, finding.step)


def costs_of(check: CheckResult) -> list[float]:
    """What each finding of a check cost, in tenths of a point; together what the check lost.

    A finding carries the share of the loss that its own `score_loss` has in the sum.
    """
    return shared_out(check.out_of - tenths(check.points), _weights(check))


def _weights(check: CheckResult) -> list[float]:
    return [f.score_loss if f.charged else 0.0 for f in check.findings]


def points_overruled(check: CheckResult, finding: Finding) -> float | None:
    """The points a check would have with a finding overruled: by its own rule, or with what it cost
    given back where the rule cannot say; None where it cost nothing."""
    without = points_without(check, finding)
    cost = next(c for f, c in zip(check.findings, costs_of(check), strict=True) if f == finding)
    if without is None and cost > 0:
        return tenths(min(check.out_of, check.points + cost))
    return without


def points_without(check: CheckResult, finding: Finding) -> float | None:
    """The points a check would have without one charged finding; None where a rule of its own
    (the yield's band, the bench part of drying) gives the score.

    A check's score is 1 less the losses charged, at least 0. Where they are more than the check
    can lose, the others still take theirs.
    """
    if not finding.charged or finding.score_loss <= 0 or check.name in ("yield", "reagent_table"):
        return None
    if finding.code not in RULES and finding.code not in ledger_titles():
        return None
    asked, lost = sum(_weights(check)), check.out_of - check.points
    per_share = lost / min(1.0, asked)
    back = per_share * (min(1.0, asked) - min(1.0, asked - finding.score_loss))
    return tenths(min(check.out_of, check.points + max(0.0, back)))


def comments_of(work: Work) -> list[ReviewComment]:
    """All comments, those for staff included."""
    return list(
        ReviewComment.objects.filter(review__work=work).select_related("by").order_by("pk")
    )


def remarks_of(work: Work) -> QuerySet[Remark]:
    """Reusable remarks of the course."""
    return Remark.objects.filter(course=work.revision.course, dropped_at__isnull=True)


def find_review(work: Work) -> Review | None:
    return Review.objects.filter(work=work).select_related("reviewer", "released_by").first()
