from django.db import models
from django.utils import timezone

from workups.models.exercises import Assignment, ExerciseVariant, OwnExercise
from workups.models.people import Person
from workups.models.planning import Work
from workups.models.public import PublicIdModel
from workups.models.review import AssessmentSnapshot


class RevisionMove(PublicIdModel):
    """A student who was moved to another revision, with all it takes to move back."""

    work = models.ForeignKey(Work, on_delete=models.PROTECT, related_name="moves")
    before = models.ForeignKey(Assignment, on_delete=models.PROTECT, related_name="moves_from")
    after = models.ForeignKey(Assignment, on_delete=models.PROTECT, related_name="moves_to")
    variant_before = models.ForeignKey(
        ExerciseVariant, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    own_exercise_before = models.ForeignKey(
        OwnExercise, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    marked_before = models.ForeignKey(
        AssessmentSnapshot, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.CharField(max_length=300)
    at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_back_at = models.DateTimeField(null=True, blank=True, editable=False)
    taken_back_by = models.ForeignKey(
        Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ("-at", "-pk")

    def __str__(self) -> str:
        return (
            f"{self.work.student} from revision {self.before.revision.number} to "
            f"{self.after.revision.number}"
        )
