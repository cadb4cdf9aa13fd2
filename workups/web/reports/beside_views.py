from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from workups.chemistry.plan import Plan
from workups.grading.assessment import StepReport
from workups.grading.visibility import Moment
from workups.models import AssessmentSnapshot
from workups.selectors.marks import marked_snapshot
from workups.selectors.reports import moment_of
from workups.services.as_done import steps_as_done
from workups.services.assessments import compute_assessment
from workups.services.computing import CannotBeCarriedOut
from workups.sheets.scheme import Beside, schemes_beside
from workups.sheets.scheme.beside import Side
from workups.web.access import current_person, get_work_for
from workups.web.requests import HtmxRequest
from workups.web.schemes import DONE, planned_side


@dataclass(frozen=True)
class Another:
    """A plan that the own one can be laid beside; ``plan`` is None for what was done."""

    key: str
    name: str
    plan: Plan | None


@require_safe
def compare_plans(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The own plan beside another, after release: the instructor's, one of its alternatives, or
    what was done."""
    access, work = get_work_for(current_person(request), work_id)
    snapshot = marked_snapshot(work)
    if moment_of(work) is not Moment.RELEASED or snapshot is None:
        messages.error(request, "Plans are laid side by side once the report is released.")
        return redirect("show-report", work_id)
    others = list(others_of(snapshot))
    chosen = next((o for o in others if o.key == request.GET.get("with")), others[0])
    context = {"access": access, "work": work, "others": others, "chosen": chosen}
    return render(request, "workups/reports/compare_plans.html", {
        **context, "beside": beside_another(snapshot, chosen)})


def others_of(snapshot: AssessmentSnapshot) -> Iterator[Another]:
    exercise = snapshot.exercise_to_core()
    yield Another("model", "the instructor's plan", exercise.model_plan)
    for n, plan in enumerate(exercise.alternatives, 1):
        yield Another(f"way-{n}", f"another way, {n}", plan)
    if steps_as_done(snapshot) is not None:
        yield Another("done", DONE, None)


def beside_another(snapshot: AssessmentSnapshot, other: Another) -> Beside | None:
    """None where the other plan cannot be carried out for this student's exercise."""
    steps = steps_of(snapshot, other)
    if steps is None:
        return None
    own = planned_side(snapshot)
    mine = Side("my plan", own.plan, own.reports, own.remarks)
    return schemes_beside(snapshot.exercise_to_core(), mine, Side(other.name, *steps, {}))


def steps_of(
    snapshot: AssessmentSnapshot, other: Another
) -> tuple[Plan, tuple[StepReport, ...]] | None:
    if other.plan is None:
        done = steps_as_done(snapshot)
        return (done.plan, done.reports) if done else None
    own = snapshot.own_exercise
    try:
        assessment = compute_assessment(
            revision=snapshot.revision, plan=other.plan, document=own.document if own else "")
    except CannotBeCarriedOut:
        return None
    return other.plan, assessment.steps
