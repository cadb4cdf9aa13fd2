from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from workups.documents.limits import MAX_BYTES
from workups.models.courses import Course
from workups.models.exercises import ExerciseRevision
from workups.models.people import Person
from workups.models.public import PublicIdModel


class ExerciseDraft(PublicIdModel):
    """An exercise that is being written. It may be wrong: nothing that was typed is lost.

    `version` counts the saves, so that two people who edit at once are told. Each but the first
    kept the state before it, one version less. Publishing it and throwing it away close it: it is
    in no list then, and whoever saves it opens it again.
    """

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="drafts")
    title = models.CharField(max_length=200)
    document = models.TextField(help_text="The exercise file as it stands.")
    base = models.ForeignKey(
        ExerciseRevision,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="drafts",
        help_text="The revision that this began as, or was published as.",
    )
    version = models.PositiveIntegerField(default=1)
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="drafts")
    changed_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="changed_drafts")
    closed_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("-changed_at",)

    def __str__(self) -> str:
        return f"Draft of {self.title}"

    def clean(self) -> None:
        super().clean()
        if len(self.document.encode()) > MAX_BYTES:
            raise ValidationError({"document": f"At most {MAX_BYTES // 1000} kB."})
        if self.base is not None and self.base.course_id != self.course_id:
            raise ValidationError({"base": "That exercise belongs to another course."})


class DraftState(models.Model):
    """A draft as it was before it was changed, so that a change can be taken back."""

    draft = models.ForeignKey(ExerciseDraft, on_delete=models.CASCADE, related_name="states")
    version = models.PositiveIntegerField()
    document = models.TextField()
    saved_at = models.DateTimeField(editable=False)
    saved_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="draft_states")

    class Meta:
        ordering = ("-version",)
        constraints = (
            models.UniqueConstraint(fields=("draft", "version"), name="draft_version_once"),
        )

    def __str__(self) -> str:
        return f"Version {self.version} of {self.draft}"


class ModelRun(models.Model):
    """A computed assessment of an exercise's own model plan, kept so that pages are quick.

    `digest` names everything it was computed from; a row can be thrown away at any time.
    """

    digest = models.CharField(max_length=64, unique=True)
    engine = models.CharField(max_length=40)
    assessment = models.JSONField()
    made_at = models.DateTimeField(default=timezone.now, editable=False)

    def __str__(self) -> str:
        return f"Model plan {self.digest[:8]}, engine {self.engine}"


class TryOut(models.Model):
    """Where an instructor is a student of the own exercise: a small course of one."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="try_outs")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="try_outs")
    own_course = models.OneToOneField(
        Course, on_delete=models.PROTECT, related_name="try_out_of", editable=False
    )

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("course", "person"), name="one_try_out_per_person_and_course"
            ),
        )

    def __str__(self) -> str:
        return f"Try-out of {self.course} by {self.person}"


class Remark(PublicIdModel):
    """A comment that was kept for use on other reports of the course."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="remarks")
    text = models.TextField(max_length=4000)
    kept_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="remarks_kept")
    kept_at = models.DateTimeField(default=timezone.now, editable=False)
    dropped_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ("text",)

    def __str__(self) -> str:
        return self.text[:80]
