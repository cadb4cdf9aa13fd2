"""Marks for the gradebook, one row a student."""

from collections.abc import Sequence
from dataclasses import dataclass

from workups.models import Course, Enrolment, ExerciseRevision, Review, Role
from workups.selectors.marks import points_of


@dataclass(frozen=True)
class GradebookRow:
    """A student's points by exercise, empty where there are none to give out."""

    enrolment: Enrolment
    points: tuple[float | None, ...]


@dataclass(frozen=True)
class GradebookColumn:
    """One exercise: all revisions of it that students may be on, and the points to be had.

    `outside_id` is what the gradebook calls it; empty where nobody has said so.
    """

    key: str
    title: str
    out_of: float
    outside_id: str

    @property
    def heading(self) -> str:
        return self.outside_id or f"{self.title} ({self.out_of:g} points)"


def gradebook_columns(exercises: Sequence[ExerciseRevision]) -> list[GradebookColumn]:
    """One column an exercise, whatever revision a student is on."""
    columns: dict[str, GradebookColumn] = {}
    for revision in exercises:
        points = revision.to_core().rubric.points
        column = GradebookColumn(
            revision.key, revision.title, float(sum(points.values())), revision.outside_id
        )
        columns.setdefault(revision.key, column)
    return list(columns.values())


def gradebook_rows(
    course: Course,
    columns: Sequence[GradebookColumn],
    exercises: Sequence[ExerciseRevision],
    *,
    unreleased: bool,
) -> list[GradebookRow]:
    """Everybody on the roster; marks that are released, or accepted too if asked for."""
    states = {Review.State.RELEASED} | ({Review.State.REVIEWED} if unreleased else set())
    students = (
        Enrolment.objects.filter(course=course, role=Role.STUDENT, left_at__isnull=True)
        .select_related("person", "section")
        .order_by("section__name", "person__display_name", "person__sign_in")
    )
    reviews = list(
        Review.objects.filter(
            work__revision__in=list(exercises), work__enrolment__course=course, state__in=states
        ).select_related("work__revision")
    )
    points = points_of(reviews)
    found = {
        (review.work.enrolment_id, review.work.revision.key): round(
            sum(points[review.pk][1].values()), 2
        )
        for review in reviews
        if points[review.pk][1]
    }
    return [
        GradebookRow(student, tuple(found.get((student.pk, c.key)) for c in columns))
        for student in students
    ]
