from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet

from workups.exercise.exercise import CHECK_TITLES
from workups.grading.assessment import CheckResult
from workups.grading.scoring import ROUNDED, tenths
from workups.models import AssessmentSnapshot, PointAdjustment, Review, Work
from workups.selectors.verdicts import scores
from workups.words.numbers import change


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
        """In tenths, also where an assessment of before they were stored so has more digits."""
        return tenths(self.check.points)

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
    """What a check has, in tenths: never below 0, never above what a person may give for it.

    The sum may be outside where a report was assessed anew after points were given by hand.
    """
    return tenths(min(max(0.0, computed + by_hand), max(most_points(out_of), computed)))


def most_points(out_of: float) -> float:
    """What a person may give at most for a check; 1 where the rubric gives nothing for it."""
    return max(out_of, 1.0)


@dataclass(frozen=True)
class Marks:
    """The marks of a report, check by check."""

    checks: tuple[CheckMark, ...]
    rounded = ROUNDED

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


Points = dict[str, float]


def points_of(reviews: Sequence[Review]) -> dict[int, tuple[Points, Points]]:
    """Computed and given points by check, of many reviews at once, by their key."""
    resting = {r.pk: r.snapshot_id for r in reviews if r.snapshot_id is not None}
    resting |= _newest_of([r for r in reviews if r.snapshot_id is None])
    computed = scores(AssessmentSnapshot.objects.filter(pk__in=resting.values()))
    deltas: dict[int, Counter[str]] = defaultdict(Counter)
    for review, check, delta in standing_of(reviews).values_list(
        "review_id", "check_name", "delta"
    ):
        deltas[review][check] += float(delta)  # type: ignore[assignment]
    found: dict[int, tuple[Points, Points]] = {review.pk: ({}, {}) for review in reviews}
    for pk, snapshot in resting.items():
        found[pk] = (
            {c.name: tenths(c.points) for c in computed[snapshot]},
            {c.name: points_given(tenths(c.points), deltas[pk][c.name], c.out_of)
             for c in computed[snapshot]},
        )
    return found


def _newest_of(reviews: Sequence[Review]) -> dict[int, int]:
    """The newest assessment of each, for reviews in which nobody has chosen one."""
    rows = (
        AssessmentSnapshot.objects.filter(work__review__in=reviews)
        .order_by("made_at", "pk")
        .values_list("work__review", "pk")
    )
    return dict(rows)


def standing_of(reviews: Sequence[Review]) -> QuerySet[PointAdjustment]:
    """The adjustments of these reviews that no later one has taken back."""
    return PointAdjustment.objects.filter(review__in=reviews, superseded_by__isnull=True)
