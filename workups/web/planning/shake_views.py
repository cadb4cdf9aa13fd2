from dataclasses import dataclass
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workups.chemistry.plan import Parting, Plan
from workups.documents import plan_from_data
from workups.grading.assessment import Assessment, StepReport
from workups.grading.visibility import Moment, shown_steps
from workups.models import Work
from workups.selectors.plans import current_plan
from workups.selectors.predictions import Question, Said, questions_of, said_to
from workups.selectors.self_checks import asks_first, draws_scheme, draws_shakes, last_self_check
from workups.services.assessments import look_publicly
from workups.services.computing import CannotBeCarriedOut
from workups.services.self_checks import shown_of
from workups.sheets.funnel import funnel_figure
from workups.sheets.svg import Figure
from workups.web.access import current_person, get_work_for
from workups.web.planning.builder import pictured
from workups.web.requests import HtmxRequest


@dataclass(frozen=True)
class Shake:
    """What there is to see of a shake: questions that come first, or answers and picture; nothing
    of them, and a word why, where it cannot be drawn."""

    questions: list[Question]
    said: list[Said]
    figure: Figure | None = None
    why_not: str = ""


@require_safe
def show_shake(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    """The funnel at one step of the own plan, worked out when it is asked for."""
    access, work = get_work_for(current_person(request), work_id)
    plan = filled_in(work)
    step = next((s for s in plan.of(Parting) if s.id == step_id), None)
    if step is None:
        raise Http404
    context = {
        "access": access, "work": work, "step": step, "number": plan.index(step_id) + 1,
        "shake": shake_of(work, plan, step, request.GET.dict()),
    }
    template = "_shake.html" if request.htmx else "show_shake.html"
    return render(request, f"workups/planning/{template}", context)


def filled_in(work: Work) -> Plan:
    """The own plan up to the first step that is not filled in."""
    plan = current_plan(work)
    steps = plan.data["steps"] if plan else []
    gap = next((i for i, step in enumerate(steps) if "typed" in step), len(steps))
    return plan_from_data(steps[:gap])


def shake_of(work: Work, plan: Plan, step: Parting, sent: dict[str, str]) -> Shake:
    """The picture of a shake, or what is asked before it; ``sent`` is what was answered."""
    try:
        reports = reports_of(work, plan)
    except CannotBeCarriedOut as problem:
        return Shake([], [], why_not=f"It cannot be drawn: {problem}.")
    if reports is None:
        return Shake([], [], why_not=not_drawn(work))
    if not any(report.step == step.id for report in reports):
        return Shake([], [], why_not="It cannot be drawn: a step before it, or this one, cannot be "
                     "carried out as it is written.")
    questions = questions_of(work.to_core(), plan, reports, step) if asks_first(work) else []
    said = said_to(questions, sent)
    if questions and not said:
        return Shake(questions, [])
    figure = funnel_figure(work.to_core(), plan, reports, step.id, shares_only=True)
    return Shake([], said, figure)


def reports_of(work: Work, plan: Plan) -> tuple[StepReport, ...] | None:
    """What the steps do, for a student; None where the exercise does not let it be looked at now.

    Raises CannotBeCarriedOut.
    """
    seen: Assessment | None = None
    if draws_shakes(work):
        seen = look_publicly(work, plan)
    elif draws_scheme(work):
        checked = last_self_check(work)
        if checked is not None and checked.plan_revision.to_core() == plan:
            seen = pictured(checked, shown_of(checked, work))
    return shown_steps(seen, Moment.PLANNING) if seen else None


def not_drawn(work: Work) -> str:
    if not draws_scheme(work):
        return "In this exercise you draw your own first: the funnel is shown once your plan is " \
               "handed in."
    return "In this exercise the funnel is drawn for a plan that you have self-checked, if the " \
           "self-check says where the product is."
