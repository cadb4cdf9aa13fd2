from workups.grading.assessment import Finding, Strength
from workups.models import AssessmentSnapshot, HoldClearance, PlanRevision, Work
from workups.selectors.plans import submitted_plan


def hold_findings(plan: PlanRevision) -> list[Finding]:
    """The safety holds found in a plan that was handed in."""
    snapshot = AssessmentSnapshot.objects.filter(plan_revision=plan).first()
    if snapshot is None:
        return []
    checks = snapshot.to_core().checks
    return [f for c in checks for f in c.findings if f.strength == Strength.SAFETY_HOLD]


def clearance_of(plan: PlanRevision) -> HoldClearance | None:
    return HoldClearance.objects.filter(plan_revision=plan).select_related("by").last()


def open_holds(work: Work) -> list[Finding]:
    """Safety holds of the plan last handed in that wait for a TA's word."""
    plan = submitted_plan(work)
    if plan is None or clearance_of(plan) is not None:
        return []
    return hold_findings(plan)
