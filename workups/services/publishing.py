"""From a draft to an exercise that sections work on."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from workups.grading.assessment import Assessment, CheckResult, Strength
from workups.models import (
    Assignment,
    ExerciseDraft,
    ExerciseRevision,
    Extension,
    Person,
    Section,
    Work,
)
from workups.services.audit import record_audit
from workups.services.drafts import read_draft
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.model_runs import assess_model
from workups.services.results import keep_results_out
from workups.services.variants import counterpart, set_variant


class GuardReasonMissing(Exception):
    """The model plan fails a check, and nobody said why that is all right."""


@dataclass(frozen=True)
class SectionTerms:
    """A section that gets the exercise, with its dates and policy."""

    section: Section
    terms: AssignmentTerms


def failing_checks(assessment: Assessment) -> tuple[CheckResult, ...]:
    """The checks that the model plan itself does not pass in full, or holds for safety."""
    return tuple(c for c in assessment.checks if c.score < 1.0 - 1e-9 or _is_held(c))


def _is_held(check: CheckResult) -> bool:
    return any(f.strength is Strength.SAFETY_HOLD for f in check.findings)


def publish_draft(
    *, actor: Person, draft: ExerciseDraft, to: Sequence[SectionTerms], guard_reason: str = ""
) -> ExerciseRevision:
    """Freeze a draft as a revision and give it to sections.

    Raises DocumentError, ModelPlanFails, or GuardReasonMissing; then nothing is published.
    """
    exercise, error = read_draft(draft)
    if exercise is None:
        assert error is not None
        raise error
    fails = failing_checks(assess_model(document=draft.document))
    if fails and not guard_reason.strip():
        raise GuardReasonMissing
    return _publish(actor, draft, exercise.key, to, guard_reason.strip() if fails else "")


@transaction.atomic
def _publish(
    actor: Person, draft: ExerciseDraft, key: str, to: Sequence[SectionTerms], guard_reason: str
) -> ExerciseRevision:
    revision = publish_revision(
        actor=actor,
        course=draft.course,
        key=key,
        title=draft.title,
        document=draft.document,
        guard_reason=guard_reason,
    )
    give_to_sections(actor=actor, revision=revision, to=to)
    draft.delete()
    return revision


@transaction.atomic
def give_to_sections(
    *, actor: Person, revision: ExerciseRevision, to: Sequence[SectionTerms]
) -> list[Assignment]:
    """Assign a revision; who has not begun an older one of the same exercise gets the new one."""
    assignments = []
    for given in to:
        assignment = assign_revision(
            actor=actor, revision=revision, section=given.section, terms=given.terms
        )
        move_unstarted(actor=actor, assignment=assignment)
        assignments.append(assignment)
    return assignments


@transaction.atomic
def move_unstarted(*, actor: Person, assignment: Assignment) -> int:
    """Move works on older revisions in which nothing was saved yet; gives their number."""
    older = Assignment.objects.filter(
        section=assignment.section, revision__key=assignment.revision.key
    ).exclude(pk=assignment.pk)
    works = list(
        Work.objects.filter(
            assignment__in=older,
            plan_revisions__isnull=True,
            reagent_entries__isnull=True,
            bench_record__isnull=True,
            explanation="",
        )
    )
    for work in works:
        move_work(work, assignment)
    if works:
        record_audit(
            actor=actor,
            action="move-students",
            subject=assignment,
            course=assignment.revision.course,
            details={"works": [str(work.public_id) for work in works]},
        )
    for emptied in older.filter(works__isnull=True, moves_from=None, moves_to=None):
        _drop_emptied(actor, emptied)
    return len(works)


def move_work(work: Work, assignment: Assignment) -> None:
    """Put a work under another assignment, its extension and form of the exercise with it."""
    if assignment.report_due > work.assignment.report_due:
        keep_results_out(actor=None, revision=work.revision)
    Extension.objects.filter(
        assignment_id=work.assignment_id, enrolment_id=work.enrolment_id
    ).update(assignment=assignment)
    variant = counterpart(work.variant, assignment.revision) or assignment.variant
    work.assignment, work.revision = assignment, assignment.revision
    set_variant(work, variant)
    work.full_clean()
    work.save(update_fields=["assignment", "revision", "variant", "own_exercise"])


def _drop_emptied(actor: Person, assignment: Assignment) -> None:
    """An older assignment that nobody works on any more only confuses."""
    record_audit(
        actor=actor,
        action="replace-assignment",
        subject=assignment,
        course=assignment.revision.course,
    )
    assignment.extensions.all().delete()
    assignment.delete()
