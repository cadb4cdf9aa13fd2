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
