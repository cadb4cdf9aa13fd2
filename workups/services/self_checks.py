from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from workups.documents import assessment_from_data, assessment_to_data
from workups.grading.assessment import Assessment
from workups.models import Person, PlanRevision, SelfCheck, Work
from workups.selectors.plans import current_plan
from workups.selectors.self_checks import SelfCheckPolicy, policy_of
from workups.services.assessments import assess_publicly, with_reagent_table
from workups.services.computing import CannotBeCarriedOut
from workups.services.holding import hold
from workups.services.planning import PlanIsIncomplete
from workups.services.refusals import Refused

# No server lets a request go on for longer than this (README); one that lasted was stopped.
LONGEST = timedelta(minutes=3)


class SelfCheckIsOff(Refused):
    """The exercise says nothing before the deadline."""


class CheckIsRunning(Refused):
    """A self-check of yours is still being computed."""


class NoAttemptsLeft(Refused):
    """The student has used the attempts that the exercise allows."""


def self_check(*, actor: Person, work: Work) -> SelfCheck:
    """Assess the plan with public numbers and log the attempt; the same plan is counted once.

    One at a time for a person. One that the server stopped, because it took too long, counts.
    """
    plan = current_plan(work)
    if plan is None or not plan.is_complete:
        raise PlanIsIncomplete("Some steps are not filled in yet.")
    policy = policy_of(work)
    require_allowed(policy)
    last = SelfCheck.objects.filter(work=work).first()
    if last is not None and last.plan_revision_id == plan.pk:
        return last
    _begin(actor, work)
    try:
        assessment = assess_publicly(work, plan.to_core())
    except CannotBeCarriedOut:
        _end(work)
        raise
    return _log_attempt(actor, work, plan, with_reagent_table(assessment, work), policy)


@transaction.atomic
def _begin(actor: Person, work: Work) -> None:
    """Noted before it is computed: nothing is left to say so when the server is stopped."""
    hold(actor)
    hold(work)
    since = timezone.now() - LONGEST
    mine = Work.objects.filter(enrolment__person_id=actor.pk)
    if mine.filter(checking_since__gt=since).exists():
        raise CheckIsRunning
    if work.checking_since is not None:
        work.checks_cut_short += 1
    require_attempts(policy_of(work))
    work.checking_since = timezone.now()
    work.save(update_fields=["checking_since", "checks_cut_short"])


def _end(work: Work) -> None:
    work.checking_since = None
    work.save(update_fields=["checking_since"])


def shown_of(check: SelfCheck, work: Work) -> Assessment | None:
    """What a self-check may tell its student.

    Checks of earlier versions were computed with the hidden numbers and are kept as they are;
    what is told of their plan is computed anew with public ones, None where that cannot be done.
    """
    stored = assessment_from_data(check.assessment)
    if stored.public_numbers:
        return stored
    try:
        return assess_publicly(work, check.plan_revision.to_core())
    except CannotBeCarriedOut:
        return None


def require_allowed(policy: SelfCheckPolicy) -> None:
    if not policy.is_on:
        raise SelfCheckIsOff


def require_attempts(policy: SelfCheckPolicy) -> None:
    if policy.attempts_left == 0:
        raise NoAttemptsLeft


@transaction.atomic
def _log_attempt(
    actor: Person, work: Work, plan: PlanRevision, assessment: Assessment, policy: SelfCheckPolicy
) -> SelfCheck:
    hold(work)
    _end(work)
    attempt = SelfCheck(
        work=work,
        plan_revision=plan,
        attempt=SelfCheck.objects.filter(work=work).count() + 1,
        detail=policy.detail,
        assessment=assessment_to_data(assessment),
        by=actor,
    )
    attempt.full_clean()
    attempt.save()
    return attempt
