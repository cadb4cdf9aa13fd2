from dataclasses import dataclass
from decimal import Decimal

from workups.grading.assessment import CheckResult
from workups.grading.exercise import CHECK_TITLES
from workups.grading.numbers import change
from workups.models import AssessmentSnapshot, PointAdjustment, Review, Work


@dataclass(frozen=True)
class CheckMark:
    """One check of a report: the points computed, those given or taken by hand, and the sum."""

    check: CheckResult
    adjustments: tuple[PointAdjustment, ...]

    @property
    def title(self) -> str:
        return CHECK_TITLES[self.check.name]

    @property
    def computed(self) -> float:
        return self.check.points

    @property
    def by_hand(self) -> Decimal:
        return sum((a.delta for a in self.adjustments), Decimal(0))

    @property
    def by_hand_words(self) -> str:
        """With its sign; empty where nothing was changed."""
        return change(float(self.by_hand)) if self.by_hand else ""

    @property
    def points(self) -> float:
        return points_given(self.computed, float(self.by_hand), self.check.out_of)


def points_given(computed: float, by_hand: float, out_of: float) -> float:
    """What a check has: never below 0, never above what a person may give for it.

    The sum may be outside where a report was assessed anew after points were given by hand.
    """
    return min(max(0.0, computed + by_hand), max(most_points(out_of), computed))


def most_points(out_of: float) -> float:
    """What a person may give at most for a check; 1 where the rubric gives nothing for it."""
    return max(out_of, 1.0)


@dataclass(frozen=True)
class Marks:
    """The marks of a report, check by check."""

    checks: tuple[CheckMark, ...]

    @property
    def points(self) -> float:
        return sum(mark.points for mark in self.checks)

    @property
    def out_of(self) -> float:
        return sum(mark.check.out_of for mark in self.checks)


def newest_snapshot(work: Work) -> AssessmentSnapshot | None:
    return AssessmentSnapshot.objects.filter(work=work).first()


def marked_snapshot(work: Work) -> AssessmentSnapshot | None:
    """The assessment the mark rests on: the one the reviewer chose, else the newest."""
    review = Review.objects.filter(work=work).select_related("snapshot").first()
    if review is not None and review.snapshot is not None:
        return review.snapshot
    return newest_snapshot(work)


def standing_adjustments(work: Work) -> list[PointAdjustment]:
    """The adjustments that no later one has taken back."""
    return list(
        PointAdjustment.objects.filter(
            review__work=work, superseded_by__isnull=True
        ).select_related("by")
    )


def marks_of(work: Work) -> Marks | None:
    """The marks as they stand; None before anything was assessed."""
    snapshot = marked_snapshot(work)
    if snapshot is None:
        return None
    adjustments = standing_adjustments(work)
    checks = snapshot.to_core().checks
    return Marks(
        tuple(
            CheckMark(c, tuple(a for a in adjustments if a.check_name == c.name)) for c in checks
        )
    )
