import secrets

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from workups.chemistry.plan import Plan
from workups.documents import plan_from_data
from workups.exercise.exercise import Exercise
from workups.models.append_only import AppendOnlyModel
from workups.models.courses import Enrolment, Role
from workups.models.exercises import (
    Assignment,
    ExerciseRevision,
    ExerciseVariant,
    OwnExercise,
    read_exercise,
)
from workups.models.people import Person
from workups.models.public import PublicIdModel

# Without vowels, so that no words appear, and without signs that look alike on a wet label.
CODE_SIGNS = "BCDFGHJKMNPQRTVWXY346789"
_CODE_LENGTH = 5


def make_bench_code() -> str:
    """A short code that stands for a student on sheets, labels and at a shared station."""
    return "".join(secrets.choice(CODE_SIGNS) for _ in range(_CODE_LENGTH))


class HandIn(models.TextChoices):
    """Where what a student handed in stands; `services/hand_ins.py` says what leads where."""

    NOTHING = "nothing", "nothing handed in"
    SAVED = "saved", "to be assessed"
    ASSESSING = "assessing", "being assessed"
    ASSESSED = "assessed", "assessed"
    FAILED = "cannot be carried out", "cannot be carried out"


# To be assessed: nobody knows yet what comes of it.
UNDER_WAY = frozenset({HandIn.SAVED, HandIn.ASSESSING})


class Work(PublicIdModel):
    """One student's work on an assignment: plan, bench record (perhaps shared) and report."""

    assignment = models.ForeignKey(Assignment, on_delete=models.PROTECT, related_name="works")
    enrolment = models.ForeignKey(Enrolment, on_delete=models.PROTECT, related_name="works")
    revision = models.ForeignKey(
        ExerciseRevision,
        on_delete=models.PROTECT,
        related_name="works",
        help_text="The revision this student started with, or was moved to.",
    )
    variant = models.ForeignKey(
        ExerciseVariant,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="works",
        help_text="What was changed for this student; not shown to anybody but staff.",
    )
    own_exercise = models.ForeignKey(
        OwnExercise,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        editable=False,
        related_name="works",
    )
    bench_code = models.CharField(
        max_length=8, unique=True, default=make_bench_code, editable=False
    )
    station_pin = models.CharField(
        max_length=128, blank=True, editable=False, help_text="Hashed, for the shared station."
    )
    bench_record = models.ForeignKey(
        "workups.BenchRecord",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="works",
        help_text="Partners share one record.",
    )
    admitted_at = models.DateTimeField(null=True, blank=True, editable=False)
    admitted_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="admissions"
    )
    explanation = models.TextField(
        "your explanation",
        blank=True,
        max_length=4000,
        help_text="What you think happened, in your own words.",
    )
    answers = models.JSONField(
        default=list, blank=True, help_text="Questions of the task with the student's answers."
    )
    report_submitted_at = models.DateTimeField(null=True, blank=True, editable=False)
    started_at = models.DateTimeField(default=timezone.now, editable=False)
    hand_in = models.CharField(
        max_length=24, choices=HandIn, default=HandIn.NOTHING, editable=False
    )
    hand_in_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Since when it is in that state."
    )
    hand_in_count = models.PositiveIntegerField(
        default=0, editable=False, help_text="How often something new was there to assess."
    )
    hand_in_problem = models.CharField(max_length=300, blank=True, editable=False)

    checking_since = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Since when a self-check is computing."
    )
    checks_cut_short = models.PositiveIntegerField(
        default=0, editable=False, help_text="Self-checks that the server stopped; they count."
    )

    class Meta:
        ordering = ("enrolment__person__display_name",)
        constraints = (
            models.UniqueConstraint(
                fields=("assignment", "enrolment"), name="one_work_per_student_and_assignment"
            ),
            models.CheckConstraint(
                name="hand_in_in_a_known_state", condition=models.Q(hand_in__in=HandIn.values)
            ),
            models.CheckConstraint(
                name="nothing_is_handed_in_until_it_is",
                condition=models.Q(hand_in=HandIn.NOTHING, hand_in_count=0)
                | (~models.Q(hand_in=HandIn.NOTHING) & models.Q(hand_in_count__gt=0)),
            ),
            models.CheckConstraint(
                name="hand_in_problem_with_its_state",
                condition=models.Q(hand_in=HandIn.FAILED) ^ models.Q(hand_in_problem=""),
            ),
        )

    @property
    def is_assessed(self) -> bool:
        """Whether the newest assessment rests on all that was handed in."""
        return self.hand_in == HandIn.ASSESSED

    @property
    def is_being_assessed(self) -> bool:
        """Whether something is still to be assessed, or is being assessed."""
        return self.hand_in in UNDER_WAY

    @property
    def cannot_be_carried_out(self) -> bool:
        return self.hand_in == HandIn.FAILED

    def __str__(self) -> str:
        return f"{self.revision.title}: {self.student}"

    @property
    def student(self) -> Person:
        return self.enrolment.person

    @property
    def exercise_text(self) -> str:
        """The exercise file as this student has it."""
        own = self.own_exercise
        return self.revision.document if own is None else own.document

    def to_core(self) -> Exercise:
        """The exercise as this student has it; raises DocumentError if it cannot be read."""
        return read_exercise(self.exercise_text)

    def clean(self) -> None:
        super().clean()
        # Whoever becomes a TA keeps the work begun as a student.
        if self._state.adding and self.enrolment.role != Role.STUDENT:
            raise ValidationError({"enrolment": "Work belongs to a student."})
        if self.revision.course_id != self.enrolment.course_id:
            raise ValidationError({"revision": "That exercise belongs to another course."})


class PlanRevision(AppendOnlyModel):
    """One state of a student's plan. The newest that is not `aside` is the plan.

    `version` counts every saved state. A save that was based on an older version than the newest
    is kept `aside`: nothing is lost, and the student is asked. Submitting adds a revision with
    `submitted_at`. Undo adds one with the data of an earlier version, `undone_to`; the next Undo
    goes on from there.
    """

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="plan_revisions")
    version = models.PositiveIntegerField()
    base_version = models.PositiveIntegerField(default=0)
    data = models.JSONField(help_text="The plan's steps as plain data.")
    change = models.CharField(max_length=200, blank=True, help_text="What was done, in words.")
    aside = models.BooleanField(default=False)
    undone_to = models.PositiveIntegerField(null=True, blank=True)
    saved_at = models.DateTimeField(default=timezone.now, editable=False)
    saved_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, related_name="saved_plan_revisions"
    )
    submitted_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("-version",)
        constraints = (
            models.UniqueConstraint(fields=("work", "version"), name="plan_version_once_per_work"),
        )

    def __str__(self) -> str:
        return f"Version {self.version} of the plan of {self.work.student}"

    @property
    def is_complete(self) -> bool:
        """Whether every step is filled in, so that the plan can be carried out."""
        return bool(self.data["steps"]) and not any("typed" in s for s in self.data["steps"])

    def to_core(self) -> Plan:
        """The plan, without the steps that are not filled in yet."""
        return plan_from_data([step for step in self.data["steps"] if "typed" not in step])


class SelfCheck(AppendOnlyModel):
    """One use of the self-check: which plan, and the whole assessment as it was then."""

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="self_checks")
    plan_revision = models.ForeignKey(
        PlanRevision, on_delete=models.PROTECT, related_name="self_checks"
    )
    attempt = models.PositiveIntegerField()
    detail = models.CharField(max_length=30)
    assessment = models.JSONField()
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="self_checks")

    class Meta:
        ordering = ("-attempt",)
        constraints = (
            models.UniqueConstraint(
                fields=("work", "attempt"), name="self_check_attempt_once_per_work"
            ),
        )

    def __str__(self) -> str:
        return f"Self-check {self.attempt} of {self.work.student}"


class ReagentTableEntry(models.Model):
    """A student's answers on one line of the reagent table, as typed; blank until answered.

    `substance` is the reagent's key, or a product's key for its theoretical yield. Answers are
    kept as text because their significant figures count.
    """

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="reagent_entries")
    substance = models.CharField(max_length=80)
    molar_mass = models.CharField("molar mass", max_length=30, blank=True)
    amount_mmol = models.CharField("amount", max_length=30, blank=True)
    limiting = models.BooleanField("limiting reagent", default=False)
    theoretical_g = models.CharField("theoretical yield", max_length=30, blank=True)
    attempts = models.PositiveIntegerField(default=0)
    correct = models.BooleanField(null=True, blank=True, default=None)
    checked_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("pk",)
        verbose_name_plural = "reagent table entries"
        constraints = (
            models.UniqueConstraint(
                fields=("work", "substance"), name="one_reagent_line_per_substance"
            ),
        )

    def __str__(self) -> str:
        return f"{self.substance} in the reagent table of {self.work.student}"
