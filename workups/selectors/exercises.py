"""The exercises of a course: what is published, to whom, and how far it is."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils import timezone

from workups.exercise.exercise import Exercise, SafetySheet
from workups.models import (
    Assignment,
    Course,
    Enrolment,
    ExerciseDraft,
    ExerciseRevision,
    Role,
    Section,
    Work,
)
from workups.selectors.courses import sections_seen_by
from workups.selectors.progress import Progress, progress_of


@dataclass(frozen=True)
class AssignmentLine:
    """A section's share in an exercise; `progress` is not for students."""

    assignment: Assignment
    progress: Progress | None = None


@dataclass(frozen=True)
class ExerciseLine:
    """One published revision with the sections that have it."""

    revision: ExerciseRevision
    assignments: tuple[AssignmentLine, ...]

    @property
    def has_records(self) -> bool:
        """Whether any readings are locked, so that there is a class to look at."""
        return any(line.progress and line.progress.records_in for line in self.assignments)


def assignments_seen_by(enrolment: Enrolment) -> QuerySet[Assignment]:
    """Assignments of the sections this person sees; students see those that have opened of what
    they work on, wherever it began, and of what their section has besides."""
    seen = Assignment.objects.select_related("revision__course", "section")
    if enrolment.role != Role.STUDENT:
        return seen.filter(section__in=sections_seen_by(enrolment))
    mine = Work.objects.filter(enrolment=enrolment).values("assignment")
    theirs = Q(pk__in=mine) | Q(pk__in=assignments_to_start(enrolment).values("pk"))
    return seen.filter(theirs, opens_at__lte=timezone.now())


def assignments_in_order(enrolment: Enrolment) -> list[Assignment]:
    """The same by when their plans are due, on one date in the week's order."""
    return sorted(
        assignments_seen_by(enrolment), key=lambda a: (a.plan_due, a.section.place_in_week))


def with_other_sections(assignment: Assignment) -> list[Assignment]:
    """The assignment among all of its exercise, in any revision, by their keys."""
    revision = assignment.revision
    others = Assignment.objects.filter(
        revision__course=revision.course_id, revision__key=revision.key
    ).exclude(pk=assignment.pk)
    return sorted([assignment, *others], key=lambda each: each.pk)


def assignments_to_start(enrolment: Enrolment) -> QuerySet[Assignment]:
    """What was given to a student's section and is not begun in any: all of it for one who joins
    late, until their work is made."""
    begun = Work.objects.filter(enrolment=enrolment).values("revision__key")
    return Assignment.objects.filter(section=enrolment.section).exclude(revision__key__in=begun)


def exercise_lines(enrolment: Enrolment) -> list[ExerciseLine]:
    """What the course overview lists, the exercise that is due first on top; its sections by when
    their plans are due, on one date in the week's order."""
    assignments = assignments_in_order(enrolment)
    progress = {} if enrolment.role == Role.STUDENT else progress_of(assignments)
    lines: dict[ExerciseRevision, list[AssignmentLine]] = {}
    for assignment in assignments:
        line = AssignmentLine(assignment, progress.get(assignment.pk))
        lines.setdefault(assignment.revision, []).append(line)
    return [ExerciseLine(revision, tuple(lines[revision])) for revision in lines]


def assignment_lines(revision: ExerciseRevision) -> list[AssignmentLine]:
    given = revision.assignments.select_related("section", "revision")
    assignments = sorted(given, key=lambda a: a.section.place_in_week)
    progress = progress_of(assignments)
    return [AssignmentLine(a, progress[a.pk]) for a in assignments]


def revisions_of(course: Course) -> QuerySet[ExerciseRevision]:
    return ExerciseRevision.objects.filter(course=course).order_by("title", "key", "-number")


def drafts_of(course: Course) -> QuerySet[ExerciseDraft]:
    """Those that nobody has published or thrown away."""
    drafts = ExerciseDraft.objects.filter(course=course, closed_at__isnull=True)
    return drafts.select_related("changed_by", "base")


def sections_without(course: Course, revision: ExerciseRevision | None) -> QuerySet[Section]:
    """Sections that do not have this revision yet."""
    sections = Section.objects.filter(course=course)
    if revision is None:
        return sections
    return sections.exclude(assignments__revision=revision)


def earlier_assignments(
    course: Course, key: str, sections: Iterable[Section]
) -> dict[int, Assignment]:
    """The newest assignment of an exercise that each section has, by the section's key."""
    found = (
        Assignment.objects.filter(
            revision__course=course, revision__key=key, section__in=list(sections)
        )
        .select_related("revision")
        .order_by("revision__number")
    )
    return {assignment.section_id: assignment for assignment in found}


# What stands on pages and sheets for an emergency, and where safety data sheets are.


@dataclass(frozen=True)
class Safety:
    """The exercises' own texts, the course's text for all of them, and the links of both."""

    of_exercises: tuple[str, ...]
    of_course: str
    sheets: tuple[SafetySheet, ...]

    def __str__(self) -> str:
        """All of it in one paragraph, as printed: the exercise's own first."""
        links = "; ".join(f"{sheet.name} {sheet.url}" for sheet in self.sheets)
        named = (f"Safety data sheets: {links}.",) if links else ()
        return " ".join(filter(None, (*self.of_exercises, self.of_course, *named)))


def safety_of(course: Course, exercises: Iterable[Exercise]) -> Safety:
    """The same for one exercise or several, each text and each link once."""
    texts = [exercise.texts for exercise in exercises]
    own = dict.fromkeys(text.emergency.strip() for text in texts)
    sheets = [sheet for text in texts for sheet in text.safety_sheets]
    sheets += [SafetySheet(link.label, link.url) for link in course.safety_links]
    once = tuple(dict.fromkeys(sheets))
    return Safety(tuple(filter(None, own)), course.emergency_text.strip(), once)
