"""Results that students see already stay visible, whoever writes readings again."""

from django.utils import timezone

from workups.models import Assignment, ExerciseRevision, Person, Review
from workups.selectors.reports import has_open_readings
from workups.services.audit import record_audit


def keep_results_out(*, actor: Person | None, revision: ExerciseRevision) -> None:
    """To be called, in the same transaction, before somebody's readings are opened again.

    Without it one report that goes back to its student, or one who joins late, would take the
    results of every section of the exercise away from those who have read them. `actor` is None
    where the program does it by itself.
    """
    if has_open_readings(revision):
        return
    out = Assignment.objects.filter(
        works__review__state=Review.State.RELEASED,
        revision__course=revision.course_id,
        revision__key=revision.key,
        results_opened_at__isnull=True,
    ).order_by("pk").distinct()
    for assignment in out:
        assignment.results_opened_at = timezone.now()
        assignment.save(update_fields=["results_opened_at"])
        record_audit(
            actor=actor, action="keep-results-out", subject=assignment, course=revision.course
        )
