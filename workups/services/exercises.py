from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from workups.models import (
    Assignment,
    Course,
    Enrolment,
    ExerciseRevision,
    ExerciseVariant,
    Extension,
    Person,
    Section,
    Work,
)
from workups.selectors.exercises import with_other_sections
from workups.services.audit import record_audit
from workups.services.holding import RowIsGone, hold, hold_all
from workups.services.results import keep_results_out
from workups.services.variants import carry_variants, counterpart
from workups.services.works import hold_students, start_missing_works


@dataclass(frozen=True)
class AssignmentTerms:
    """Dates and policy of an assignment; blank policy means the exercise's own."""

    opens_at: datetime
    plan_due: datetime
    report_due: datetime
    feedback_detail: str = ""
    feedback_attempts: int | None = None
    group_size: int = 1


@transaction.atomic
def publish_revision(
    *, actor: Person, course: Course, key: str, title: str, document: str, guard_reason: str = ""
) -> ExerciseRevision:
    """Freeze an exercise document as the next revision of its key in this course."""
    hold(course)
    newest = (
        ExerciseRevision.objects
        .filter(course=course, key=key)
        .order_by("-number")
        .first()
    )
    revision = ExerciseRevision(
        course=course,
        key=key,
        number=newest.number + 1 if newest else 1,
        title=title,
        document=document,
        published_by=actor,
        guard_reason=guard_reason,
        outside_id=newest.outside_id if newest else "",
    )
    revision.full_clean()
    revision.save()
    record_audit(actor=actor, action="publish-exercise", subject=revision, course=course)
    if newest is not None:
        carry_variants(actor=actor, before=newest, revision=revision)
    return revision


@transaction.atomic
def assign_revision(
    *, actor: Person, revision: ExerciseRevision, section: Section, terms: AssignmentTerms
) -> Assignment:
    """Give a revision to a section and start the work of its students. Results that another
    section has read stay visible."""
    hold_students(section)
    keep_results_out(actor=actor, revision=revision)
    assignment = Assignment(revision=revision, section=section, **vars(terms))
    assignment.variant = _variant_until_now(assignment)
    assignment.full_clean()
    assignment.save()
    start_missing_works(assignment=assignment)
    record_audit(actor=actor, action="assign-exercise", subject=assignment, course=revision.course)
    return assignment


@transaction.atomic
def set_exercise_archived(*, actor: Person, revision: ExerciseRevision, archived: bool) -> int:
    """Put an exercise away, or take it out again, in all its revisions; gives their number."""
    revisions = ExerciseRevision.objects.filter(
        course=revision.course, key=revision.key, archived_at__isnull=archived
    )
    changed = revisions.update(archived_at=timezone.now() if archived else None)
    if changed:
        record_audit(
            actor=actor,
            action="archive-exercise" if archived else "reopen-exercise",
            subject=revision,
            course=revision.course,
        )
    return changed


def _variant_until_now(assignment: Assignment) -> ExerciseVariant | None:
    """What the section has of an older revision, if the new one has it too."""
    before = (
        Assignment.objects.filter(
            section=assignment.section, revision__key=assignment.revision.key, variant__isnull=False
        )
        .order_by("-revision__number")
        .first()
    )
    return None if before is None else counterpart(before.variant, assignment.revision)


@transaction.atomic
def change_terms(*, actor: Person, assignment: Assignment, terms: AssignmentTerms) -> Assignment:
    hold_all(with_other_sections(assignment))
    if terms.report_due > assignment.report_due:
        keep_results_out(actor=actor, revision=assignment.revision)
    before = {name: str(getattr(assignment, name)) for name in vars(terms)}
    for name, value in vars(terms).items():
        setattr(assignment, name, value)
    assignment.full_clean()
    assignment.save(update_fields=list(vars(terms)))
    record_audit(
        actor=actor,
        action="change-dates",
        subject=assignment,
        course=assignment.revision.course,
        details={"before": before},
    )
    return assignment


def _where_now(assignment: Assignment, enrolment: Enrolment) -> Assignment:
    """Where the student is by now with the exercise; nobody moves them until the transaction ends.

    Raises RowIsGone where that is another section's.
    """
    hold(assignment.section)
    hold(enrolment)
    work = Work.objects.filter(
        enrolment=enrolment, revision__key=assignment.revision.key
    ).select_related("assignment__revision__course").first()
    if work is None:
        hold_all(with_other_sections(assignment))
        return assignment
    hold(work)
    if work.assignment.section_id != assignment.section_id:
        raise RowIsGone
    return work.assignment


@transaction.atomic
def give_extension(
    *,
    actor: Person,
    assignment: Assignment,
    enrolment: Enrolment,
    reason: str,
    plan_due: datetime | None = None,
    report_due: datetime | None = None,
) -> Extension:
    """Later dates for one student; a second extension takes the place of the first."""
    assignment = _where_now(assignment, enrolment)
    keep_results_out(actor=actor, revision=assignment.revision)
    extension = Extension.objects.filter(assignment=assignment, enrolment=enrolment).first()
    extension = extension or Extension(assignment=assignment, enrolment=enrolment)
    before = (extension.plan_due, extension.report_due, extension.reason)
    if extension.pk is not None and before == (plan_due, report_due, reason):
        return extension
    extension.plan_due, extension.report_due = plan_due, report_due
    extension.reason, extension.given_by = reason, actor
    extension.full_clean()
    extension.save()
    record_audit(
        actor=actor,
        action="give-extension",
        subject=enrolment,
        course=assignment.revision.course,
        details={
            "assignment": str(assignment.public_id),
            "plan_due": str(plan_due or ""),
            "report_due": str(report_due or ""),
            "reason": reason,
        },
    )
    return extension
