"""Drafts, published exercises and assignments, each fetched with who may see it."""

from collections.abc import Iterable
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.http import Http404

from workups.models import Assignment, ExerciseDraft, ExerciseRevision, Person, Role
from workups.selectors.courses import sections_seen_by
from workups.web.access import INSTRUCTOR, TEACHING, CourseAccess, get_access_to


def get_draft_for(
    person: Person, public_id: UUID, *, to_change: bool = False
) -> tuple[CourseAccess, ExerciseDraft]:
    draft = (
        ExerciseDraft.objects.filter(public_id=public_id)
        .select_related("course", "changed_by")
        .first()
    )
    if draft is None:
        raise Http404
    return get_access_to(person, draft.course, INSTRUCTOR, to_change=to_change), draft


def get_revision_for(
    person: Person,
    public_id: UUID,
    roles: Iterable[Role] = INSTRUCTOR,
    *,
    to_change: bool = False,
) -> tuple[CourseAccess, ExerciseRevision]:
    revision = (
        ExerciseRevision.objects.filter(public_id=public_id)
        .select_related("course", "published_by")
        .first()
    )
    if revision is None:
        raise Http404
    return get_access_to(person, revision.course, roles, to_change=to_change), revision


def get_assignment_for(
    person: Person,
    public_id: UUID,
    roles: Iterable[Role] = TEACHING,
    *,
    to_change: bool = False,
) -> tuple[CourseAccess, Assignment]:
    """What was given to a section that the person sees: a TA only assigned sections."""
    assignment = (
        Assignment.objects.filter(public_id=public_id)
        .select_related("revision__course", "section")
        .first()
    )
    if assignment is None:
        raise Http404
    access = get_access_to(person, assignment.revision.course, roles, to_change=to_change)
    if not sections_seen_by(access.enrolment).filter(pk=assignment.section_id).exists():
        raise PermissionDenied("You are not assigned to this section.")
    return access, assignment
