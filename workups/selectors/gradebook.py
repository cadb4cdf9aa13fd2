"""Marks for the gradebook, one row a student."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Count, Q

from workups.grading.scoring import tenths
from workups.models import Course, Enrolment, ExerciseRevision, Review, Role, Work
from workups.selectors.marks import points_of
from workups.selectors.reports import has_open_readings

FIRST_COLUMNS = ("name", "sign_in", "outside_id", "section")


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
    is_twin: bool = False

    @property
    def heading(self) -> str:
        """What stands on top of the column; with the key where two would be the same."""
        named = self.outside_id or f"{self.title} ({self.out_of:g} points)"
        return f"{named} [{self.key}]" if self.is_twin else named


def gradebook_columns(exercises: Sequence[ExerciseRevision]) -> list[GradebookColumn]:
    """One column an exercise, whatever revision a student is on."""
    columns: dict[str, GradebookColumn] = {}
    for revision in exercises:
        points = revision.to_core().rubric.points
        column = GradebookColumn(
            revision.key, revision.title, float(sum(points.values())), revision.outside_id
        )
        columns.setdefault(revision.key, column)
    used = Counter([*FIRST_COLUMNS, *(column.heading for column in columns.values())])
    return [replace(c, is_twin=used[c.heading] > 1) for c in columns.values()]


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
        (review.work.enrolment_id, review.work.revision.key): tenths(
            sum(points[review.pk][1].values())
        )
        for review in reviews
        if points[review.pk][1]
    }
    return [
        GradebookRow(student, tuple(found.get((student.pk, c.key)) for c in columns))
        for student in students
    ]


def marks_ready(exercises: Iterable[ExerciseRevision]) -> dict[int, str]:
    """In words, by the key of the revision: how many marks there are to give out, and whether
    released ones are held back from students still."""
    revisions = list(exercises)
    counted = (
        Work.objects.filter(revision__in=revisions, enrolment__left_at__isnull=True)
        .values("revision")
        .annotate(
            students=Count("pk"),
            released=Count("pk", filter=Q(review__state=Review.State.RELEASED)),
            reviewed=Count("pk", filter=Q(review__state=Review.State.REVIEWED)),
            held=Count(
                "pk",
                filter=Q(
                    review__state=Review.State.RELEASED, assignment__results_opened_at__isnull=True
                ),
            ),
        )
    )
    rows: dict[int, Mapping[str, Any]] = {row["revision"]: row for row in counted}
    return {r.pk: _ready_words(r, rows[r.pk]) if r.pk in rows else "no student" for r in revisions}


def _ready_words(revision: ExerciseRevision, row: Mapping[str, Any]) -> str:
    words = f"{row['released']} of {row['students']} released"
    if row["reviewed"]:
        words += f", {row['reviewed']} more reviewed"
    if row["held"] and has_open_readings(revision):
        words += f"; not shown to students yet: {row['held']}"
    return words
