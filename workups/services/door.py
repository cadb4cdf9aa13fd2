"""At the door and during the lab: holds cleared, students admitted."""

from django.db import transaction
from django.utils import timezone

from workups.models import HandIn, HoldClearance, Person, Work
from workups.selectors.holds import open_holds, waits_for_a_word
from workups.selectors.plans import submitted_plan
from workups.services.assessments import settle
from workups.services.audit import record_audit
from workups.services.hand_ins import NothingToAssess, require_assessed
from workups.services.holding import hold
from workups.services.refusals import Refused


class PlanIsMissing(Refused):
    """The student has handed in no plan."""


class HoldStands(Refused):
    """The plan waits for a TA's word: held for safety, or it cannot be carried out."""


class AnotherPlan(Refused):
    """The student has handed in another plan since the page was shown; nothing was cleared."""


class NothingIsHeld(Refused):
    """The plan has no open safety hold; it may have been cleared a moment ago."""


def clear_hold(*, actor: Person, work: Work, reason: str, seen: int | None = None) -> HoldClearance:
    """A word that the plan last handed in may go to the bench, with the reason.

    `seen` is the version of the plan that the page showed. Raises NotAssessedYet where something
    new came in just now.
    """
    settle(actor=actor, work=work, reason="read at the door")
    return _clear_hold(actor, work, reason, seen)


@transaction.atomic
def _clear_hold(actor: Person, work: Work, reason: str, seen: int | None) -> HoldClearance:
    _hold_for_a_word(work)
    plan = submitted_plan(work)
    if plan is None or not waits_for_a_word(work):
        raise NothingIsHeld
    held = open_holds(work)
    if seen is not None and seen != plan.version:
        raise AnotherPlan
    clearance = HoldClearance(
        work=work,
        plan_revision=plan,
        revision=work.revision,
        own_exercise=work.own_exercise,
        reason=reason,
        by=actor,
    )
    clearance.full_clean()
    clearance.save()
    record_audit(
        actor=actor,
        action="clear-hold",
        subject=work,
        course=work.revision.course,
        details={
            "reason": reason,
            "plan_version": plan.version,
            "holds": [finding.code for finding in held],
            "problem": work.hand_in_problem,
        },
    )
    return clearance


def _hold_for_a_word(work: Work) -> None:
    """A TA's word is about the plan and the exercise as they are until it is stored."""
    try:
        require_assessed(work, allowed=(HandIn.ASSESSED, HandIn.FAILED))
    except NothingToAssess as nothing:
        raise PlanIsMissing from nothing


def admit_work(*, actor: Person, work: Work) -> Work:
    """Let a student in. Admitting twice keeps the first word.

    A plan whose assessment was cut short is assessed first. Raises NotAssessedYet where something
    new came in just now.
    """
    settle(actor=actor, work=work, reason="read at the door")
    return _admit_work(actor, work)


@transaction.atomic
def _admit_work(actor: Person, work: Work) -> Work:
    hold(work)
    if work.admitted_at is not None:
        return work
    _hold_for_a_word(work)
    if waits_for_a_word(work):
        raise HoldStands
    work.admitted_at, work.admitted_by = timezone.now(), actor
    work.save(update_fields=["admitted_at", "admitted_by"])
    record_audit(actor=actor, action="admit", subject=work, course=work.revision.course)
    return work


@transaction.atomic
def take_back_admission(*, actor: Person, work: Work) -> Work:
    """A wrong tap at the door undone."""
    hold(work)
    if work.admitted_at is None:
        return work
    work.admitted_at = work.admitted_by = None
    work.save(update_fields=["admitted_at", "admitted_by"])
    record_audit(
        actor=actor, action="take-back-admission", subject=work, course=work.revision.course
    )
    return work
