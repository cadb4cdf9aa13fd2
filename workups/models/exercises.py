import hashlib
from dataclasses import replace
from datetime import datetime
from functools import lru_cache

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from workups.documents import load_exercise
from workups.documents.variants import Variant, variant_from_data
from workups.exercise.exercise import FEEDBACK_DETAILS, Exercise, FeedbackPolicy
from workups.models.append_only import AppendOnlyModel
from workups.models.courses import Course, Enrolment, Role, Section
from workups.models.people import Person
from workups.models.public import PublicIdModel

# Dates as they are typed, before a time zone is put on them.
EARLIEST_DATE, LATEST_DATE = datetime(2000, 1, 1), datetime(2099, 12, 31, 23, 59)  # noqa: DTZ001


@lru_cache(maxsize=256)
def read_exercise(document: str) -> Exercise:
    """The exercise of a stored text, remembered, since texts are never changed."""
    return load_exercise(document)


class ExerciseRevision(PublicIdModel):
    """An exercise as it was published: the document never changes, a change is a new number."""

    course = models.ForeignKey(Course, on_delete=models.PROTECT, related_name="revisions")
    key = models.SlugField(max_length=80)
    number = models.PositiveIntegerField(default=1)
    title = models.CharField(max_length=200)
    document = models.TextField(help_text="The exercise file, as it was published.")
    published_at = models.DateTimeField(default=timezone.now, editable=False)
    published_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="published_revisions"
    )
    archived_at = models.DateTimeField(
        null=True,
        blank=True,
        editable=False,
        help_text="Put away: no longer offered, everything that hangs on it stays.",
    )
    outside_id = models.CharField(
        max_length=200,
        blank=True,
        help_text="The exercise's identifier in the gradebook; the same for all its revisions.",
    )
    guard_reason = models.TextField(
        blank=True,
        max_length=2000,
        help_text="Why this was published although its model plan fails a check.",
    )

    class Meta:
        ordering = ("title", "-number")
        constraints = (
            models.UniqueConstraint(
                fields=("course", "key", "number"), name="revision_number_once_per_exercise"
            ),
        )

    def __str__(self) -> str:
        return f"{self.title} (revision {self.number})"

    def to_core(self) -> Exercise:
        """The exercise; raises DocumentError if this program version cannot read it."""
        return read_exercise(self.document)


class Assignment(PublicIdModel):
    """A revision given to a section, with its dates. Blank policy means the exercise's own."""

    revision = models.ForeignKey(
        ExerciseRevision, on_delete=models.PROTECT, related_name="assignments"
    )
    section = models.ForeignKey(Section, on_delete=models.PROTECT, related_name="assignments")
    opens_at = models.DateTimeField("opens")
    plan_due = models.DateTimeField("plan due")
    report_due = models.DateTimeField("readings and report due")
    feedback_detail = models.CharField(
        "self-check says",
        max_length=30,
        blank=True,
        choices=[(detail, detail) for detail in FEEDBACK_DETAILS],
    )
    feedback_attempts = models.PositiveIntegerField(
        "self-check attempts", null=True, blank=True, help_text="0: as many as wanted."
    )
    group_size = models.PositiveSmallIntegerField(
        "students per bench record", default=1, choices=[(1, "one"), (2, "two"), (3, "three")]
    )
    variant = models.ForeignKey(
        "workups.ExerciseVariant",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="assignments",
        help_text="The form of the exercise that the section's students begin with.",
    )
    results_opened_at = models.DateTimeField(
        null=True,
        blank=True,
        editable=False,
        help_text="Set by an instructor who lets results out before all sections are locked.",
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("plan_due", "section__name")
        constraints = (
            models.CheckConstraint(
                name="assignment_dates_in_order",
                condition=models.Q(opens_at__lt=models.F("plan_due"))
                & models.Q(plan_due__lte=models.F("report_due")),
                violation_error_message=(
                    "The dates go in this order: opens, plan due, readings and report due."
                ),
            ),
        )

    def __str__(self) -> str:
        return f"{self.revision.title}, {self.section}"

    def clean(self) -> None:
        super().clean()
        if self.section.course_id != self.revision.course_id:
            raise ValidationError({"section": "That section belongs to another course."})
        if self.variant is not None and self.variant.revision_id != self.revision_id:
            raise ValidationError({"variant": "That variant belongs to another exercise."})

    def feedback_policy(self, exercise: Exercise) -> FeedbackPolicy:
        """The exercise's self-check policy with what this assignment overrides."""
        own, attempts = exercise.policy, self.feedback_attempts
        return replace(
            own,
            detail=self.feedback_detail or own.detail,
            attempts=own.attempts if attempts is None else attempts,
        )


class Extension(models.Model):
    """Later dates for one student, with the reason."""

    assignment = models.ForeignKey(Assignment, on_delete=models.PROTECT, related_name="extensions")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="extensions")
    plan_due = models.DateTimeField("plan due", null=True, blank=True)
    report_due = models.DateTimeField("readings and report due", null=True, blank=True)
    reason = models.CharField(max_length=300)
    given_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="extensions_given")
    given_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("-given_at",)
        constraints = (
            models.UniqueConstraint(
                fields=("assignment", "enrolment"), name="one_extension_per_student"
            ),
        )

    def __str__(self) -> str:
        return f"Extension for {self.enrolment.person}: {self.reason}"

    def clean(self) -> None:
        super().clean()
        if self.plan_due is None and self.report_due is None:
            raise ValidationError("An extension gives at least one later date.")
        if self.enrolment.role != Role.STUDENT:
            raise ValidationError({"enrolment": "Extensions are for students."})


class OwnExercise(AppendOnlyModel):
    """The text of an exercise as some students have it, frozen: a re-print is the same.

    Students whose variant gives the same text share a row.
    """

    digest = models.CharField(max_length=64, unique=True)
    document = models.TextField()

    def __str__(self) -> str:
        return f"Own exercise {self.digest[:8]}"

    @staticmethod
    def digest_of(document: str) -> str:
        return hashlib.sha256(document.encode()).hexdigest()


class ExerciseVariant(PublicIdModel):
    """Another form of a published exercise, for a section or for single students.

    Students never see that there is one; `title` is for staff.
    """

    revision = models.ForeignKey(
        ExerciseRevision, on_delete=models.PROTECT, related_name="variants"
    )
    title = models.CharField(max_length=120)
    data = models.JSONField(help_text="What is changed, as plain data.")
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="variants_made")
    dropped_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("title", "pk")
        constraints = (
            models.UniqueConstraint(
                fields=("revision", "title"),
                condition=models.Q(dropped_at__isnull=True),
                name="variant_title_once_per_revision",
                violation_error_message="This exercise already has a variant of that name.",
            ),
        )

    def __str__(self) -> str:
        return self.title

    def to_core(self) -> Variant:
        return variant_from_data(self.data)
