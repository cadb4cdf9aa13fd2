"""Whether a plan that was handed in may go to the bench."""

from dataclasses import dataclass

from django.db.models import F, Q, QuerySet

from workups.grading.assessment import Finding, Strength
from workups.grading.finding_titles import finding_title
from workups.models import AssessmentSnapshot, HoldClearance, PlanRevision, Work
from workups.selectors.plans import submitted_plan

# A clearance counts for the exercise that the plan was read under.
_SAME_EXERCISE = Q(revision__isnull=True) | Q(revision=F("work__revision")) & (
    Q(own_exercise=F("work__own_exercise"))
    | Q(own_exercise__isnull=True, work__own_exercise__isnull=True)
)


def hold_findings(plan: PlanRevision) -> list[Finding]:
    """The safety holds found in a plan that was handed in."""
    snapshot = AssessmentSnapshot.objects.filter(plan_revision=plan).first()
    if snapshot is None:
        return []
    checks = snapshot.to_core().checks
    return [f for c in checks for f in c.findings if f.strength == Strength.SAFETY_HOLD]


def standing_clearances() -> QuerySet[HoldClearance]:
    return HoldClearance.objects.filter(_SAME_EXERCISE)


def clearance_of(plan: PlanRevision) -> HoldClearance | None:
    return standing_clearances().filter(plan_revision=plan).select_related("by").last()


def open_holds(work: Work) -> list[Finding]:
    """Safety holds of the plan last handed in that wait for a TA's word, as last assessed."""
    plan = submitted_plan(work)
    if plan is None or clearance_of(plan) is not None:
        return []
    return hold_findings(plan)


def waits_for_a_word(work: Work) -> bool:
    """Whether a TA has to read the plan last handed in before it goes to the bench: it is held for
    safety, or nothing could be found in it because it cannot be carried out."""
    plan = submitted_plan(work)
    if plan is None or clearance_of(plan) is not None:
        return False
    return work.cannot_be_carried_out or bool(hold_findings(plan))


@dataclass(frozen=True)
class HeldFor:
    """What a student reads of a hold: the rule and the step, and nothing that was computed."""

    code: str
    title: str
    step_number: int | None
    step_title: str


def held_for(work: Work) -> list[HeldFor]:
    """The open holds of a work in a student's words.

    Whether a plan is held is decided by the exercise's own numbers, which no sentence of a finding
    may carry before the lock.
    """
    plan = submitted_plan(work)
    steps = plan.to_core().steps if plan else ()
    places = {step.id: (number, step.title) for number, step in enumerate(steps, 1)}
    return [
        HeldFor(f.code, finding_title(f.code), *places.get(f.step, (None, "")))
        for f in open_holds(work)
    ]
