from dataclasses import dataclass

from django.db.models import QuerySet

from workups.models import PlanRevision, Work


def plan_history(work: Work) -> QuerySet[PlanRevision]:
    """Every saved state of the plan, the newest first, those kept aside included."""
    return PlanRevision.objects.filter(work=work).select_related("saved_by").order_by("-version")


def current_plan(work: Work) -> PlanRevision | None:
    """The newest state of the plan; None before anything was saved."""
    return plan_history(work).filter(aside=False).first()


def submitted_plan(work: Work) -> PlanRevision | None:
    """The plan last handed in; None before that."""
    return plan_history(work).filter(submitted_at__isnull=False).first()


def find_plan(work: Work, version: int) -> PlanRevision | None:
    return plan_history(work).filter(version=version).first()


def plan_before(revision: PlanRevision) -> PlanRevision | None:
    """The state that a revision followed, for undoing it."""
    earlier = PlanRevision.objects.filter(
        work_id=revision.work_id, aside=False, version__lt=revision.version
    )
    return earlier.order_by("-version").first()


@dataclass(frozen=True)
class Undo:
    """What Undo takes back, in words, and the version that it brings back."""

    words: str
    to_version: int


def undo_of(revision: PlanRevision) -> Undo | None:
    """The last change that is not undone yet; handing in is not undone."""
    if revision.submitted_at is not None:
        return None
    stands: PlanRevision | None = revision
    while stands is not None and stands.undone_to is not None:
        stands = find_plan(revision.work, stands.undone_to)
    before = plan_before(stands) if stands else None
    while stands and before and before.data == stands.data:
        stands, before = before, plan_before(before)
    return Undo(stands.change, before.version) if stands and before else None


def earlier_plans(work: Work) -> list[PlanRevision]:
    """The plans of the same person's other works, the newest first."""
    others = Work.objects.filter(enrolment__person=work.student).exclude(pk=work.pk)
    plans = [current_plan(other) for other in others.order_by("-started_at")]
    return [plan for plan in plans if plan is not None and plan.data["steps"]]
