"""A student's own work. Teaching staff read it on their own pages."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.utils import timezone

from workups.models import Person, Work
from workups.selectors.works import works_with_everything
from workups.web.access import STUDENT, CourseAccess, get_access_to


def get_work_for(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work]:
    """The work if it is the person's own: 404 for anybody outside, 403 for other roles."""
    work = works_with_everything().filter(public_id=public_id).first()
    if work is None:
        raise Http404
    course = work.assignment.section.course
    access = get_access_to(person, course, STUDENT, to_change=to_change)
    if work.enrolment_id != access.enrolment.pk:
        raise Http404
    if work.assignment.opens_at > timezone.now():
        raise PermissionDenied("This exercise has not opened yet.")
    return access, work
