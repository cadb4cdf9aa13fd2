import hashlib

from django.db import models
from django.utils import timezone

from workups.documents.variants import Variant, variant_from_data
from workups.models.append_only import AppendOnlyModel
from workups.models.exercises import ExerciseRevision
from workups.models.people import Person
from workups.models.public import PublicIdModel


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
