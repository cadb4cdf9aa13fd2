"""Students' works and queries as teaching staff see them: a TA only those of assigned sections."""

from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404

from workups.models import MarkQuery, Person, Work
from workups.selectors.courses import sections_seen_by
from workups.selectors.works import works_with_everything
from workups.web.access import TEACHING, CourseAccess, get_access_to


def get_work_to_review(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, Work]:
    """404 for an outsider, 403 for other roles, for a TA of other sections, and for a work of
    one's own from before one became a TA."""
    work = works_with_everything().filter(public_id=public_id).first()
    if work is None:
        raise Http404
    return _access_to(person, work, to_change), work


def get_query_to_answer(person: Person, public_id: UUID) -> tuple[CourseAccess, MarkQuery]:
    query = (
        MarkQuery.objects.filter(public_id=public_id)
        .select_related(
            "review__work__assignment__section__course",
            "review__work__revision",
            "review__work__enrolment",
        )
        .first()
    )
    if query is None:
        raise Http404
    return _access_to(person, query.review.work, to_change=True), query


def _access_to(person: Person, work: Work, to_change: bool) -> CourseAccess:
    section = work.assignment.section
    access = get_access_to(person, section.course, TEACHING, to_change=to_change)
    if work.enrolment.person_id == person.pk:
        raise PermissionDenied("This is your own work. Somebody else marks it.")
    if not sections_seen_by(access.enrolment).filter(pk=section.pk).exists():
        raise PermissionDenied("You are not assigned to this student's section.")
    return access
