"""From a draft to an exercise that sections work on."""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from workups.chemistry import ENGINE_VERSION
from workups.documents import assessment_from_data, assessment_to_data, load_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, CheckResult, Strength
from workups.models import (
    Assignment,
    ExerciseDraft,
    ExerciseRevision,
    ModelRun,
    Person,
    Section,
    Work,
)
from workups.services import assessments
from workups.services.assessments import seed_for
from workups.services.audit import record_audit
from workups.services.computing import CannotBeCarriedOut, computing
from workups.services.drafts import StaleDraft, close_draft, read_draft
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.variants import has_begun
from workups.services.works import move_work

DRAFT_SEED = 1
KEPT_FOR = timedelta(days=120)


class ModelPlanFails(Refused):
    """The model plan cannot be carried out; the message says where it stops."""


def assess_model_of(revision: ExerciseRevision) -> Assessment:
    """The model plan of a published exercise, with the draws that its reports are judged by."""
    return assess_model(document=revision.document, seed=seed_for(revision))


def assess_model(*, document: str, seed: int = DRAFT_SEED) -> Assessment:
    """The model plan of an exercise file; raises DocumentError or ModelPlanFails."""
    digest = digest_of(document, seed)
    known = ModelRun.objects.filter(digest=digest).first()
    if known is not None:
        return assessment_from_data(known.assessment)
    assessment = _compute(document, seed)
    ModelRun.objects.get_or_create(
        digest=digest,
        defaults={"engine": assessment.engine, "assessment": assessment_to_data(assessment)},
    )
    ModelRun.objects.filter(made_at__lt=timezone.now() - KEPT_FOR).delete()
    return assessment


def digest_of(document: str, seed: int) -> str:
    """Names a model run by all it is computed from."""
    parts = "\0".join((str(ENGINE_VERSION), str(seed), str(assessments.DRAWS), document))
    return hashlib.sha256(parts.encode()).hexdigest()


def _compute(document: str, seed: int) -> Assessment:
    exercise = load_exercise(document)
    try:
        with computing(f"the model plan of {exercise.key}", for_author=True):
            return assess(exercise, seed=seed, draws=assessments.DRAWS, curves=True)
    except CannotBeCarriedOut as problem:
        raise ModelPlanFails(problem.for_author) from problem


class GuardReasonMissing(Refused):
    """The model plan fails a check, and nobody said why that is all right."""


@dataclass(frozen=True)
class SectionTerms:
    """A section that gets the exercise, with its dates and policy."""

    section: Section
    terms: AssignmentTerms


@dataclass(frozen=True)
class Frozen:
    """What is published: the text that was assessed, its key, and why failures are all right."""

    document: str
    key: str
    guard_reason: str


def failing_checks(assessment: Assessment) -> tuple[CheckResult, ...]:
    """The checks that the model plan itself does not pass in full, or holds for safety."""
    return tuple(c for c in assessment.checks if c.score < 1.0 - 1e-9 or _is_held(c))


def _is_held(check: CheckResult) -> bool:
    return any(f.strength is Strength.SAFETY_HOLD for f in check.findings)


def publish_draft(
    *, actor: Person, draft: ExerciseDraft, to: Sequence[SectionTerms], guard_reason: str = ""
) -> ExerciseRevision:
    """Freeze a draft as a revision and give it to sections.

    Publishing it twice gives the one revision. Raises DocumentError, ModelPlanFails,
    GuardReasonMissing, or StaleDraft where somebody saved another text meanwhile; then nothing is
    published.
    """
    document = draft.document
    exercise, error = read_draft(draft)
    if exercise is None:
        assert error is not None
        raise error
    fails = failing_checks(assess_model(document=document))
    if fails and not guard_reason.strip():
        raise GuardReasonMissing
    frozen = Frozen(document, exercise.key, guard_reason.strip() if fails else "")
    return _publish(actor, draft, frozen, to)


@transaction.atomic
def _publish(
    actor: Person, draft: ExerciseDraft, frozen: Frozen, to: Sequence[SectionTerms]
) -> ExerciseRevision:
    hold(draft.course)
    hold(draft)
    if draft.document != frozen.document:
        raise StaleDraft(draft)
    base = draft.base
    if draft.closed_at is not None and base is not None and base.document == frozen.document:
        return base
    revision = publish_revision(
        actor=actor,
        course=draft.course,
        key=frozen.key,
        title=draft.title,
        document=frozen.document,
        guard_reason=frozen.guard_reason,
    )
    give_to_sections(actor=actor, revision=revision, to=to)
    close_draft(draft, revision)
    return revision


@transaction.atomic
def give_to_sections(
    *, actor: Person, revision: ExerciseRevision, to: Sequence[SectionTerms]
) -> list[Assignment]:
    """Assign a revision; who has not begun an older one of the same exercise gets the new one."""
    assignments = []
    hold_all([given.section for given in to])
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
    hold(assignment.section)
    older = Assignment.objects.filter(
        section=assignment.section, revision__key=assignment.revision.key
    ).exclude(pk=assignment.pk)
    works = hold_all(Work.objects.filter(assignment__in=older))
    works = [work for work in works if not has_begun(work)]
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


def _drop_emptied(actor: Person, assignment: Assignment) -> None:
    """An older assignment that nobody works on any more only confuses."""
    hold(assignment)
    record_audit(
        actor=actor,
        action="replace-assignment",
        subject=assignment,
        course=assignment.revision.course,
    )
    assignment.extensions.all().delete()
    assignment.delete()
