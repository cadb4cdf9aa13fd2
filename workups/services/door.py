"""At the door and during the lab: holds cleared, students admitted."""

from django.db import transaction
from django.utils import timezone

from workups.models import HoldClearance, Person, Work
from workups.selectors.holds import open_holds
from workups.selectors.plans import submitted_plan
from workups.services.audit import record_audit


class PlanIsMissing(Exception):
    """The student has handed in no plan."""


class HoldStands(Exception):
    """The plan has a safety hold that nobody has cleared."""


class AnotherPlan(Exception):
    """The student has handed in another plan since the page was shown; nothing was cleared."""


class NothingIsHeld(Exception):
    """The plan has no open safety hold; it may have been cleared a moment ago."""


@transaction.atomic
def clear_hold(
    *, actor: Person, work: Work, reason: str, seen: int | None = None
) -> HoldClearance:
    """A word that the plan last handed in may go to the bench, with the reason.

    `seen` is the version of the plan that the page showed.
    """
    Work.objects.select_for_update().get(pk=work.pk)
    plan = submitted_plan(work)
    held = open_holds(work)
    if plan is None or not held:
        raise NothingIsHeld
    if seen is not None and seen != plan.version:
        raise AnotherPlan
    clearance = HoldClearance(work=work, plan_revision=plan, reason=reason, by=actor)
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
        },
    )
    return clearance


@transaction.atomic
def admit_work(*, actor: Person, work: Work) -> Work:
    """Let a student in. Admitting twice keeps the first word."""
    work = Work.objects.select_for_update().get(pk=work.pk)
    if work.admitted_at is not None:
        return work
    if submitted_plan(work) is None:
        raise PlanIsMissing
    if open_holds(work):
        raise HoldStands
    work.admitted_at, work.admitted_by = timezone.now(), actor
    work.save(update_fields=["admitted_at", "admitted_by"])
    record_audit(actor=actor, action="admit", subject=work, course=work.revision.course)
    return work


@transaction.atomic
def take_back_admission(*, actor: Person, work: Work) -> Work:
    """A wrong tap at the door undone."""
    work = Work.objects.select_for_update().get(pk=work.pk)
    if work.admitted_at is None:
        return work
    work.admitted_at = work.admitted_by = None
    work.save(update_fields=["admitted_at", "admitted_by"])
    record_audit(
        actor=actor, action="take-back-admission", subject=work, course=work.revision.course
    )
    return work
