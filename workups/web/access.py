"""Who may see what. Every view that shows an object of a course fetches it through here.

An outsider gets 404, so that nobody learns which addresses exist; someone of the course whose
role does not allow it gets 403.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone

from workups.models import (
    Assignment,
    BenchRecord,
    Course,
    Enrolment,
    ExerciseDraft,
    ExerciseRevision,
    MarkQuery,
    Person,
    Role,
    Section,
    Work,
)
from workups.selectors.courses import find_enrolment, sections_seen_by
from workups.selectors.works import record_is_locked, works_with_everything
from workups.web.requests import HtmxRequest

INSTRUCTOR = frozenset({Role.INSTRUCTOR})
TEACHING = frozenset({Role.INSTRUCTOR, Role.TA})
STAFF = frozenset({Role.INSTRUCTOR, Role.TA, Role.STOCKROOM})
STUDENT = frozenset({Role.STUDENT})
EVERYONE = frozenset(Role)


@dataclass(frozen=True)
class CourseAccess:
    """A course as one person sees it. Give it to the template as `access`."""

    course: Course
    enrolment: Enrolment

    @property
    def person(self) -> Person:
        return self.enrolment.person

    @property
    def role(self) -> Role:
        return Role(self.enrolment.role)

    @property
    def is_instructor(self) -> bool:
        return self.role == Role.INSTRUCTOR

    @property
    def is_ta(self) -> bool:
        return self.role == Role.TA

    @property
    def is_teaching(self) -> bool:
        return self.role in TEACHING

    @property
    def is_student(self) -> bool:
        return self.role == Role.STUDENT


def current_person(request: HttpRequest) -> Person:
    """The person signed in. Views get only signed-in requests unless they say otherwise."""
    if not isinstance(request.user, Person):
        raise PermissionDenied
    return request.user


def get_course_for(
    person: Person, public_id: UUID, roles: Iterable[Role] = EVERYONE, *, to_change: bool = False
) -> CourseAccess:
    """The course and the person's enrolment in it.

    404 for an outsider, 403 for a role that is not in `roles`; with `to_change`, 403 for an
    archived course too.
    """
    course = get_object_or_404(Course, public_id=public_id)
    return get_access_to(person, course, roles, to_change=to_change)


def get_access_to(
    person: Person, course: Course, roles: Iterable[Role] = EVERYONE, *, to_change: bool = False
) -> CourseAccess:
    """The same for a course already at hand, as when an exercise was fetched first."""
    enrolment = find_enrolment(person, course)
    if enrolment is None:
        raise Http404
    if enrolment.role not in set(roles):
        raise PermissionDenied("Your role in this course does not include this page.")
    if to_change and course.is_archived:
        raise PermissionDenied("This course is archived: its pages can be read, not changed.")
    enrolment.person = person
    return CourseAccess(course=course, enrolment=enrolment)


def get_section_for(
    person: Person, public_id: UUID, roles: Iterable[Role] = EVERYONE, *, to_change: bool = False
) -> tuple[CourseAccess, Section]:
    """A section that the person may see: a TA only assigned ones, a student only their own."""
    section = get_object_or_404(Section.objects.select_related("course"), public_id=public_id)
    access = get_access_to(person, section.course, roles, to_change=to_change)
    if not sections_seen_by(access.enrolment).filter(pk=section.pk).exists():
        raise PermissionDenied("You are not assigned to this section.")
    return access, section


def get_enrolment_for(
    person: Person, public_id: UUID, roles: Iterable[Role] = TEACHING, *, to_change: bool = False
) -> tuple[CourseAccess, Enrolment]:
    """Somebody's enrolment: instructors see all, TAs the students of their sections."""
    enrolment = get_object_or_404(
        Enrolment.objects.select_related("course", "person", "section"), public_id=public_id)
    access = get_access_to(person, enrolment.course, roles, to_change=to_change)
    if access.is_instructor or enrolment.person_id == person.pk:
        return access, enrolment
    seen = sections_seen_by(access.enrolment)
    if not seen.filter(student_enrolments=enrolment).exists():
        raise PermissionDenied("This person is not in a section that you are assigned to.")
    return access, enrolment


def get_work_for(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work]:
    """The work if it is the person's own: 404 for anybody outside, 403 for other roles."""
    work = get_object_or_404(works_with_everything(), public_id=public_id)
    course = work.assignment.section.course
    access = get_access_to(person, course, STUDENT, to_change=to_change)
    if work.enrolment_id != access.enrolment.pk:
        raise Http404
    if work.assignment.opens_at > timezone.now():
        raise PermissionDenied("This exercise has not opened yet.")
    return access, work


def get_work_to_review(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work]:
    """404 for an outsider, 403 for other roles, for a TA of other sections, and for a work of
    one's own from before one became a TA."""
    work = get_object_or_404(works_with_everything(), public_id=public_id)
    return _access_to(person, work, to_change), work


def get_query_to_answer(person: Person, public_id: UUID) -> tuple[CourseAccess, MarkQuery]:
    queries = MarkQuery.objects.select_related(
        "review__work__assignment__section__course",
        "review__work__revision",
        "review__work__enrolment",
    )
    query = get_object_or_404(queries, public_id=public_id)
    return _access_to(person, query.review.work, to_change=True), query


def _access_to(person: Person, work: Work, to_change: bool) -> CourseAccess:
    section = work.assignment.section
    access = get_access_to(person, section.course, TEACHING, to_change=to_change)
    if work.enrolment.person_id == person.pk:
        raise PermissionDenied("This is your own work. Somebody else marks it.")
    if not sections_seen_by(access.enrolment).filter(pk=section.pk).exists():
        raise PermissionDenied("You are not assigned to this student's section.")
    return access


def get_draft_for(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, ExerciseDraft]:
    draft = get_object_or_404(
        ExerciseDraft.objects.select_related("course", "changed_by"), public_id=public_id)
    return get_access_to(person, draft.course, INSTRUCTOR, to_change=to_change), draft


def get_revision_for(
    person: Person, public_id: UUID, roles: Iterable[Role] = INSTRUCTOR, *, to_change: bool = False
) -> tuple[CourseAccess, ExerciseRevision]:
    revision = get_object_or_404(
        ExerciseRevision.objects.select_related("course", "published_by"), public_id=public_id)
    return get_access_to(person, revision.course, roles, to_change=to_change), revision


def get_assignment_for(
    person: Person, public_id: UUID, roles: Iterable[Role] = TEACHING, *, to_change: bool = False
) -> tuple[CourseAccess, Assignment]:
    """What was given to a section that the person sees: a TA only assigned sections."""
    assignment = get_object_or_404(
        Assignment.objects.select_related("revision__course", "section"), public_id=public_id)
    access = get_access_to(person, assignment.revision.course, roles, to_change=to_change)
    if not sections_seen_by(access.enrolment).filter(pk=assignment.section_id).exists():
        raise PermissionDenied("You are not assigned to this section.")
    return access, assignment


def get_record_for(
    person: Person, work_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work, BenchRecord]:
    """The student's own bench record; 404 where none is begun."""
    access, work = get_work_for(person, work_id, to_change=to_change)
    if work.bench_record is None:
        raise Http404
    return access, work, work.bench_record


def refuse_if_locked(request: HtmxRequest, record: BenchRecord) -> bool:
    """Say that the readings are locked; True where they are."""
    if not record_is_locked(record):
        return False
    messages.error(request, "The readings are locked: nothing can be added or corrected.")
    return True
