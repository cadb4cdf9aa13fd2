from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db import models
from django.utils import timezone

from workups.documents import assessment_from_data
from workups.exercise.exercise import CHECK_TITLES, Exercise
from workups.grading.assessment import Assessment
from workups.models.append_only import AppendOnlyModel
from workups.models.bench import BenchRecord
from workups.models.exercises import Assignment, ExerciseRevision, OwnExercise, read_exercise
from workups.models.people import Person
from workups.models.planning import PlanRevision, Work
from workups.models.public import PublicIdModel
from workups.words.numbers import change

POINT_DECIMALS = 1
CHECK_CHOICES = [(key, title) for key, title in CHECK_TITLES.items()]


@dataclass(frozen=True)
class _Stored:
    """A row's assessment as it is stored, told apart by the row alone, which never changes."""

    public_id: UUID
    data: Any = field(compare=False)


# Decoding takes longer than anything else on the page of a report.
@lru_cache(maxsize=64)
def _decode(stored: _Stored) -> Assessment:
    return assessment_from_data(stored.data)


class AssessmentSnapshot(PublicIdModel, AppendOnlyModel):
    """One computed assessment with everything it was computed from. The newest holds."""

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="snapshots")
    assignment = models.ForeignKey(Assignment, on_delete=models.PROTECT, related_name="snapshots")
    revision = models.ForeignKey(
        ExerciseRevision, on_delete=models.PROTECT, related_name="snapshots"
    )
    own_exercise = models.ForeignKey(
        OwnExercise, on_delete=models.PROTECT, null=True, blank=True, related_name="snapshots"
    )
    plan_revision = models.ForeignKey(
        PlanRevision, on_delete=models.PROTECT, related_name="snapshots"
    )
    bench_record = models.ForeignKey(
        BenchRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="snapshots"
    )
    readings = models.JSONField(null=True, blank=True)
    engine = models.CharField(max_length=40)
    seed = models.BigIntegerField()
    draws = models.PositiveIntegerField()
    assessment = models.JSONField()
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="snapshots_made"
    )
    reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ("-made_at", "-pk")

    def __str__(self) -> str:
        return f"Assessment of {self.work}"

    def exercise_to_core(self) -> Exercise:
        """The exercise that was assessed, as the student had it then."""
        own = self.own_exercise
        return read_exercise(self.revision.document if own is None else own.document)

    def to_core(self) -> Assessment:
        return _decode(_Stored(self.public_id, self.assessment))


class Review(models.Model):
    """Where a report is between the student and the mark."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        IN_REVIEW = "in review", "In review"
        RETURNED = "returned", "Returned for correction"
        REVIEWED = "reviewed", "Reviewed"
        RELEASED = "released", "Released"

    work = models.OneToOneField(Work, on_delete=models.PROTECT, related_name="review")
    state = models.CharField(max_length=12, choices=State, default=State.WAITING)
    snapshot = models.ForeignKey(
        AssessmentSnapshot,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="reviews",
        help_text="The assessment that the mark rests on.",
    )
    reviewer = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="reviews"
    )
    waiting_since = models.DateTimeField(default=timezone.now, editable=False)
    returned_reason = models.CharField(max_length=1000, blank=True)
    reviewed_at = models.DateTimeField(null=True, blank=True, editable=False)
    released_at = models.DateTimeField(null=True, blank=True, editable=False)
    released_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="releases"
    )

    class Meta:
        ordering = ("waiting_since",)
        constraints = (
            models.CheckConstraint(
                name="a_mark_rests_on_an_assessment",
                condition=~models.Q(state__in=("reviewed", "released"))
                | models.Q(snapshot__isnull=False),
            ),
        )

    def __str__(self) -> str:
        return f"Review of {self.work}: {self.get_state_display()}"


class PointAdjustment(AppendOnlyModel):
    """Points given or taken by hand, with the reason. Takes back an earlier one by `supersedes`.

    With `finding_code` (and `step_id`) it overrules that finding. Points are given in tenths; rows
    from before that have two decimals.
    """

    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="adjustments")
    check_name = models.CharField(max_length=20, choices=CHECK_CHOICES)
    delta = models.DecimalField(max_digits=7, decimal_places=2)
    reason = models.CharField(max_length=1000)
    finding_code = models.CharField(max_length=60, blank=True)
    step_id = models.CharField(max_length=60, blank=True)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="adjustments")
    at = models.DateTimeField(default=timezone.now, editable=False)
    supersedes = models.OneToOneField(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="superseded_by",
    )

    class Meta:
        ordering = ("pk",)

    @property
    def delta_words(self) -> str:
        return change(float(self.delta))

    def __str__(self) -> str:
        return f"{self.delta:+} on {self.get_check_name_display()}: {self.reason}"


class HoldClearance(AppendOnlyModel):
    """A TA's word that a plan with a safety hold may go to the bench.

    It holds for the exercise that the plan was read under: other amounts or materials make other
    holds. Rows from before that was kept (`revision` empty) hold for any.
    """

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="hold_clearances")
    plan_revision = models.ForeignKey(
        PlanRevision, on_delete=models.PROTECT, related_name="hold_clearances"
    )
    revision = models.ForeignKey(
        ExerciseRevision,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="hold_clearances",
    )
    own_exercise = models.ForeignKey(
        OwnExercise,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="hold_clearances",
    )
    reason = models.CharField(max_length=1000)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="hold_clearances")
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"Safety hold cleared by {self.by}"


class ReviewComment(AppendOnlyModel):
    """A remark to the student, on the whole report or on one step; or a note among staff."""

    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="comments")
    text = models.TextField(max_length=4000)
    step_id = models.CharField(max_length=60, blank=True)
    for_staff = models.BooleanField(default=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="review_comments")
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return self.text[:80]


class MarkQuery(PublicIdModel):
    """A student's question about a released mark, and its answer."""

    review = models.ForeignKey(Review, on_delete=models.PROTECT, related_name="queries")
    check_name = models.CharField(max_length=20, choices=CHECK_CHOICES, blank=True)
    text = models.TextField(max_length=2000)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="mark_queries")
    asked_at = models.DateTimeField(default=timezone.now, editable=False)
    answer = models.TextField(max_length=2000, blank=True)
    answered_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="answered_queries"
    )
    answered_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("asked_at",)
        verbose_name_plural = "mark queries"

    def __str__(self) -> str:
        return f"Mark query by {self.asked_by}"

    @property
    def is_open(self) -> bool:
        return self.answered_at is None


class ComparedReport(PublicIdModel):
    """A report that several people mark by themselves, so that their standards can be compared.

    These marks are for the comparison alone; the student's mark is the review's.
    """

    class Purpose(models.TextChoices):
        ANCHOR = "anchor", "Anchor report"
        SECOND = "second", "Second reading"

    work = models.OneToOneField(Work, on_delete=models.PROTECT, related_name="compared")
    purpose = models.CharField(max_length=8, choices=Purpose)
    chosen_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="chosen_reports")
    chosen_at = models.DateTimeField(default=timezone.now, editable=False)
    dropped_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("chosen_at", "pk")

    def __str__(self) -> str:
        return f"{self.get_purpose_display()}: {self.work}"


class ComparedMark(AppendOnlyModel):
    """The points one person would give a compared report, by check; the newest of each counts."""

    report = models.ForeignKey(ComparedReport, on_delete=models.PROTECT, related_name="marks")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="compared_marks")
    points = models.JSONField(help_text="Points by the name of the check.")
    remark = models.CharField(max_length=1000, blank=True)
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.report} by {self.by}"

    @property
    def total(self) -> float:
        return float(sum(self.points.values()))
