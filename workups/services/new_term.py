"""A course copied for a new term: exercises, variants, settings and dates, without its people."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import timezone

from workups.models import (
    Assignment,
    Course,
    ExerciseRevision,
    ExerciseVariant,
    Person,
    Remark,
    Role,
    Section,
)
from workups.services.audit import record_audit
from workups.services.courses import add_section, enrol_person, require_new, set_archived
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.variants import counterpart

# What belongs to one course alone; every other field is a setting and is copied.
_OWN_FIELDS = frozenset({"id", "public_id", "title", "term", "archived_at", "created_at"})


@dataclass(frozen=True)
class NewTerm:
    """The copy's name, by how many weeks its dates are later, and what becomes of the old."""

    title: str
    term: str
    weeks_later: int
    archive_old: bool = False


@transaction.atomic
def copy_course(*, actor: Person, course: Course, new: NewTerm) -> Course:
    """The course anew, with `actor` as its instructor. Nobody else and no work comes along.

    Of every exercise that is not put away the newest revision is taken, as revision 1; each
    section gets what it had, weeks later, at the same time of day. Raises CourseIsOpen.
    """
    require_new(actor, new.title, new.term)
    settings = {
        field.attname: getattr(course, field.attname)
        for field in Course._meta.concrete_fields
        if field.name not in _OWN_FIELDS
    }
    copied = Course(title=new.title, term=new.term, **settings)
    copied.full_clean()
    copied.save()
    enrol_person(course=copied, person=actor, role=Role.INSTRUCTOR)
    sections = {
        section.pk: add_section(actor=actor, course=copied, name=section.name, meets=section.meets)
        for section in course.sections.all()
    }
    for revision in _newest_revisions(course):
        _copy_exercise(actor, revision, copied, sections, new.weeks_later)
    for remark in Remark.objects.filter(course=course, dropped_at__isnull=True):
        Remark.objects.create(course=copied, text=remark.text, kept_by=actor)
    record_audit(
        actor=actor,
        action="copy-course",
        subject=copied,
        course=copied,
        details={"from": str(course.public_id), "weeks_later": new.weeks_later},
    )
    if new.archive_old:
        set_archived(actor=actor, course=course, archived=True)
    return copied


def _newest_revisions(course: Course) -> list[ExerciseRevision]:
    newest: dict[str, ExerciseRevision] = {}
    for revision in course.revisions.filter(archived_at__isnull=True).order_by("number"):
        newest[revision.key] = revision
    return list(newest.values())


def _copy_exercise(
    actor: Person,
    revision: ExerciseRevision,
    course: Course,
    sections: dict[int, Section],
    weeks: int,
) -> None:
    copied = publish_revision(
        actor=actor,
        course=course,
        key=revision.key,
        title=revision.title,
        document=revision.document,
        guard_reason=revision.guard_reason,
    )
    for variant in revision.variants.filter(dropped_at__isnull=True):
        ExerciseVariant.objects.create(
            revision=copied, title=variant.title, data=variant.data, made_by=actor
        )
    for assignment in _last_assignments(revision):
        given = assign_revision(
            actor=actor,
            revision=copied,
            section=sections[assignment.section_id],
            terms=_later(assignment, weeks),
        )
        given.variant = counterpart(assignment.variant, copied)
        given.save(update_fields=["variant"])


def _last_assignments(revision: ExerciseRevision) -> list[Assignment]:
    """What each section had of the exercise, in whichever revision: the newest of each."""
    found = Assignment.objects.filter(
        revision__course_id=revision.course_id, revision__key=revision.key
    ).order_by("revision__number", "pk")
    return list({assignment.section_id: assignment for assignment in found}.values())


def _later(assignment: Assignment, weeks: int) -> AssignmentTerms:
    dates = {
        name: weeks_later(getattr(assignment, name), weeks)
        for name in ("opens_at", "plan_due", "report_due")
    }
    return AssignmentTerms(
        **dates,
        feedback_detail=assignment.feedback_detail,
        feedback_attempts=assignment.feedback_attempts,
        group_size=assignment.group_size,
    )


def weeks_later(moment: datetime, weeks: int) -> datetime:
    """The same weekday and time of day by the local clock, whatever summer time does."""
    local = timezone.localtime(moment).replace(tzinfo=None) + timedelta(weeks=weeks)
    return timezone.make_aware(local)
