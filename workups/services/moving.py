"""Moving students who have begun to another revision: seen before, reversible, audited."""

import copy
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from workups.exercise.exercise import CHECK_TITLES
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    ExerciseRevision,
    Person,
    Review,
    RevisionMove,
    Work,
)
from workups.selectors.marks import marked_snapshot
from workups.selectors.plans import submitted_plan
from workups.services.assessments import assess_work, compute_for
from workups.services.audit import record_audit
from workups.services.computing import CannotBeCarriedOut
from workups.services.exercises import AssignmentTerms, assign_revision
from workups.services.hand_ins import NothingToAssess, new_to_assess
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.variants import counterpart, set_variant
from workups.services.works import hold_students, move_work


class MarksAreReleased(Refused):
    """The student has seen the marks: the exercise under them is not changed any more."""


class RecordIsShared(Refused):
    """Partners share a bench record: they move together or not at all."""


class MovedOn(Refused):
    """The student has been moved again since: take the later move back first."""


@dataclass(frozen=True)
class CheckChange:
    """Points of one check now and then; None where it is not there."""

    title: str
    before: float | None
    after: float | None

    @property
    def differs(self) -> bool:
        return self.before is None or self.after is None or abs(self.before - self.after) > 1e-6


@dataclass(frozen=True)
class MarkChange:
    """What moving a student would do to the computed points. ``problem``: why it cannot be said."""

    work: Work
    checks: tuple[CheckChange, ...] = ()
    problem: str = ""

    @property
    def before(self) -> float:
        return sum(c.before or 0.0 for c in self.checks)

    @property
    def after(self) -> float:
        return sum(c.after or 0.0 for c in self.checks)

    @property
    def changed(self) -> tuple[CheckChange, ...]:
        return tuple(c for c in self.checks if c.differs)


def what_would_change(work: Work, revision: ExerciseRevision) -> MarkChange:
    """The points as they stand beside those by another revision; nothing is written."""
    if submitted_plan(work) is None:
        return MarkChange(work, problem="no plan handed in, so there are no marks yet")
    trial = copy.copy(work)
    trial.revision = revision
    set_variant(trial, counterpart(work.variant, revision))
    try:
        then = {c.name: c.points for c in compute_for(trial).assessment.checks}
    except CannotBeCarriedOut as problem:
        return MarkChange(work, problem=f"the plan does not fit the other revision: {problem}")
    snapshot = marked_snapshot(work)
    now = {c.name: c.points for c in snapshot.to_core().checks} if snapshot else {}
    return MarkChange(
        work,
        tuple(
            CheckChange(title, now.get(name), then.get(name))
            for name, title in CHECK_TITLES.items()
            if name in now or name in then
        ),
    )


def move_students(
    *, actor: Person, assignment: Assignment, revision: ExerciseRevision, works: Sequence[Work],
    reason: str,
) -> list[RevisionMove]:
    """Move some students of a section; what they handed in is assessed anew beside the old.

    All are moved or none, and then assessed one after the other, which takes seconds each. Raises
    MarksAreReleased or RecordIsShared; then nobody is moved.
    """
    moves = _move_all(actor, assignment, revision, works, reason)
    for move in moves:
        _assess_anew(actor, move.work, f"moved to {revision}")
    return moves


@transaction.atomic
def _move_all(
    actor: Person,
    assignment: Assignment,
    revision: ExerciseRevision,
    works: Sequence[Work],
    reason: str,
) -> list[RevisionMove]:
    hold_students(assignment.section, works)
    _check_movable(works)
    if any(work.assignment_id != assignment.pk for work in works):
        raise MovedOn
    target = _assignment_of(actor, assignment, revision)
    moves = [_move(actor, work, target, reason) for work in works]
    record_audit(
        actor=actor,
        action="move-students",
        subject=target,
        course=revision.course,
        details={
            "works": [str(work.public_id) for work in works],
            "from": str(assignment.revision),
            "to": str(revision),
            "reason": reason,
        },
    )
    return moves


def marks_are_released(work: Work) -> bool:
    return Review.objects.filter(work=work, state=Review.State.RELEASED).exists()


def _check_movable(works: Sequence[Work]) -> None:
    """And hold them with their records, so that no mark of theirs is given or released meanwhile,
    and nobody comes to share what they share."""
    hold_all(works)
    hold_all({work.bench_record for work in works if work.bench_record is not None})
    if any(marks_are_released(work) for work in works):
        raise MarksAreReleased
    moving = {work.pk for work in works}
    for work in works:
        if work.bench_record is None:
            continue
        if set(work.bench_record.works.values_list("pk", flat=True)) - moving:
            raise RecordIsShared


def _assignment_of(actor: Person, assignment: Assignment, revision: ExerciseRevision) -> Assignment:
    """The section's assignment of the other revision; made with the same terms if it has none."""
    known = Assignment.objects.filter(section=assignment.section, revision=revision).first()
    if known is not None:
        return known
    terms = AssignmentTerms(
        **{name: getattr(assignment, name) for name in AssignmentTerms.__dataclass_fields__}
    )
    return assign_revision(actor=actor, revision=revision, section=assignment.section, terms=terms)


def _move(actor: Person, work: Work, target: Assignment, reason: str) -> RevisionMove:
    move = RevisionMove(
        work=work,
        before=work.assignment,
        after=target,
        variant_before=work.variant,
        own_exercise_before=work.own_exercise,
        marked_before=marked_snapshot(work),
        reason=reason,
        by=actor,
    )
    move_work(work, target)
    new_to_assess(work)
    move.full_clean()
    move.save()
    return move


def _assess_anew(
    actor: Person, work: Work, reason: str, rests_on: AssessmentSnapshot | None = None
) -> None:
    """A mark that was given rests on the new assessment, or on `rests_on`; until then it cannot
    be released."""
    try:
        snapshot = assess_work(actor=actor, work=work, reason=reason)
    except (NothingToAssess, CannotBeCarriedOut):
        return
    _rest_marks_on(work, rests_on or snapshot)


@transaction.atomic
def _rest_marks_on(work: Work, snapshot: AssessmentSnapshot) -> None:
    """A mark that was given already rests on this assessment from now on."""
    hold(work)
    if snapshot.revision_id == work.revision_id:
        Review.objects.filter(work=work, snapshot__isnull=False).update(snapshot=snapshot)


def take_back_move(*, actor: Person, move: RevisionMove) -> list[Work]:
    """The student is where they were, with the same exercise and the same assessment.

    Partners who share the bench record go back together. Raises MarksAreReleased, RecordIsShared
    or MovedOn; then nobody moves.
    """
    moves = _take_all_back(actor, move)
    for one in moves:
        work = one.work
        _assess_anew(actor, work, f"moved back to {work.revision}", one.marked_before)
    return [one.work for one in moves]


@transaction.atomic
def _take_all_back(actor: Person, move: RevisionMove) -> list[RevisionMove]:
    moves = [move, *_moves_of_partners(move)]
    hold(move.before.section)
    _check_movable([m.work for m in moves])
    for one in moves:
        if _last_move_of(one.work) != one or one.work.assignment_id != one.after_id:
            raise MovedOn
        _take_back(actor, one)
    return moves


def _last_move_of(work: Work) -> RevisionMove | None:
    return RevisionMove.objects.filter(work=work, taken_back_at__isnull=True).first()


def _moves_of_partners(move: RevisionMove) -> list[RevisionMove]:
    record = move.work.bench_record
    if record is None:
        return []
    partners = record.works.exclude(pk=move.work_id)
    found = [_last_move_of(partner) for partner in partners]
    return [m for m in found if m is not None and m.after_id == move.after_id]


def _take_back(actor: Person, move: RevisionMove) -> None:
    work = move.work
    move_work(work, move.before)
    work.variant, work.own_exercise = move.variant_before, move.own_exercise_before
    work.full_clean()
    work.save(update_fields=["variant", "own_exercise"])
    new_to_assess(work)
    move.taken_back_at, move.taken_back_by = timezone.now(), actor
    move.save(update_fields=["taken_back_at", "taken_back_by"])
    record_audit(
        actor=actor,
        action="take-back-move",
        subject=work,
        course=work.revision.course,
        details={"from": str(move.after.revision), "to": str(move.before.revision)},
    )
