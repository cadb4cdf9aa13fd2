"""Who may see what. Every view that shows an object of a course fetches it through here.

An outsider gets 404, so that nobody learns which addresses exist; someone of the course whose
role does not allow it gets 403.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest

from workups.models import Course, Enrolment, Person, Role, Section
from workups.selectors.courses import find_enrolment, sections_seen_by

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
    person: Person,
    public_id: UUID,
    roles: Iterable[Role] = EVERYONE,
    *,
    to_change: bool = False,
) -> CourseAccess:
    """The course and the person's enrolment in it.

    404 for an outsider, 403 for a role that is not in `roles`; with `to_change`, 403 for an
    archived course too.
    """
    course = Course.objects.filter(public_id=public_id).first()
    if course is None:
        raise Http404
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
    person: Person,
    public_id: UUID,
    roles: Iterable[Role] = EVERYONE,
    *,
    to_change: bool = False,
) -> tuple[CourseAccess, Section]:
    """A section that the person may see: a TA only assigned ones, a student only their own."""
    section = Section.objects.filter(public_id=public_id).select_related("course").first()
    if section is None:
        raise Http404
    access = get_access_to(person, section.course, roles, to_change=to_change)
    if not sections_seen_by(access.enrolment).filter(pk=section.pk).exists():
        raise PermissionDenied("You are not assigned to this section.")
    return access, section


def get_enrolment_for(
    person: Person,
    public_id: UUID,
    roles: Iterable[Role] = TEACHING,
    *,
    to_change: bool = False,
) -> tuple[CourseAccess, Enrolment]:
    """Somebody's enrolment: instructors see all, TAs the students of their sections."""
    enrolment = (
        Enrolment.objects.filter(public_id=public_id)
        .select_related("course", "person", "section")
        .first()
    )
    if enrolment is None:
        raise Http404
    access = get_access_to(person, enrolment.course, roles, to_change=to_change)
    if access.is_instructor or enrolment.person_id == person.pk:
        return access, enrolment
    seen = sections_seen_by(access.enrolment)
    if not seen.filter(student_enrolments=enrolment).exists():
        raise PermissionDenied("This person is not in a section that you are assigned to.")
    return access, enrolment
