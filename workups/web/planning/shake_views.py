from dataclasses import dataclass
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workups.chemistry.plan import Parting, Plan
from workups.documents import plan_from_data
from workups.grading.assessment import Assessment, StepReport
from workups.grading.trying import Trial, ideas_of
from workups.grading.visibility import Moment, shown_steps
from workups.models import Work
from workups.selectors.marks import marked_snapshot
from workups.selectors.plans import current_plan
from workups.selectors.reagents import Question, Said, questions_of, said_to
from workups.selectors.reports import moment_of
from workups.selectors.self_checks import asks_first, draws_scheme, draws_shakes, last_self_check
from workups.services.assessments import look_publicly, tried
from workups.services.computing import CannotBeCarriedOut
from workups.services.self_checks import shown_of
from workups.sheets.choice_curve import choice_figure, said
from workups.sheets.funnel import funnel_figure
from workups.sheets.svg import Figure
from workups.web.access import current_person, get_work_for
from workups.web.planning.builder import pictured
from workups.web.requests import HtmxRequest
from workups.words.numbers import percent


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


@dataclass(frozen=True)
class Played:
    """The picture with a value chosen, what comes of it, and whether it answers the question;
    ``verdict`` is empty before a value was chosen."""

    trial: Trial
    position: int
    figure: Figure
    now: list[str]
    verdict: str = ""
    is_right: bool = False

    @property
    def last(self) -> int:
        return len(self.trial.values) - 1

    @property
    def chosen(self) -> str:
        return said(self.trial, self.trial.values[self.position])

    @property
    def choices(self) -> list[tuple[int, str]]:
        return [(i, said(self.trial, value)) for i, value in enumerate(self.trial.values)]


@require_safe
def try_step(request: HtmxRequest, work_id: UUID, step_id: str, idea: str) -> HttpResponse:
    """One idea of the workup at one step of the own plan, to be found out by playing."""
    access, work = get_work_for(current_person(request), work_id)
    is_released = moment_of(work) is Moment.RELEASED
    plan = plan_to_try(work, is_released=is_released)
    step = next((s for s in plan.steps if s.id == step_id), None)
    ideas = ideas_of(step, work.to_core()) if step else ()
    found = next((one for one in ideas if one.key == idea), None)
    if step is None or found is None:
        raise Http404
    trial, why_not = None, ""
    if not is_released and not draws_shakes(work):
        why_not = "In this exercise such pictures come with the release of the report."
    else:
        try:
            trial = tried(work, plan, step_id, idea, is_released=is_released)
        except CannotBeCarriedOut as problem:
            why_not = f"It cannot be drawn: {problem}."
        if trial is None and not why_not:
            why_not = "Here it makes no difference: nothing of what it is about is in the flask, " \
                      "or no value changes a per cent."
    context = {
        "access": access, "work": work, "idea": found, "step": step, "why_not": why_not,
        "number": plan.index(step_id) + 1, "is_released": is_released,
        "played": played(trial, request.GET.get("at", "")) if trial else None,
    }
    template = "_trial.html" if request.htmx else "try_step.html"
    return render(request, f"workups/planning/{template}", context)


def plan_to_try(work: Work, *, is_released: bool) -> Plan:
    """The plan that the mark rests on, after release; before it the own plan so far."""
    snapshot = marked_snapshot(work) if is_released else None
    return snapshot.plan_revision.to_core() if snapshot else filled_in(work)


def played(trial: Trial, sent: str) -> Played:
    """The picture with the value at a position chosen; the plan's own before one was."""
    last = len(trial.values) - 1
    is_played = sent.isascii() and sent.isdigit() and int(sent[:4]) <= last
    own = trial.values.index(trial.planned) if trial.planned in trial.values else last
    at = int(sent) if is_played else own
    value = trial.values[at]
    now = [f"{line.name}: {percent(line.shares[at])}" for line in trial.lines]
    figure = choice_figure(trial, value, trial.idea.title)
    if not is_played:
        return Played(trial, at, figure, now)
    return Played(trial, at, figure, now, verdict_on(trial, at), value in trial.answers)


def verdict_on(trial: Trial, at: int) -> str:
    """What the chosen value is as an answer; a wrong one is told which way to look."""
    value, line = trial.values[at], trial.lines[0]
    if value in trial.answers:
        if trial.idea.is_peak:
            return "Yes: at no other pH does a per cent more go this way."
        return f"Yes: from {said(trial, value)} on, more changes less than a per cent."
    if trial.idea.is_peak:
        return f"Not yet: {percent(line.shares[at])} here, and more at another pH."
    if value > trial.answers[0]:
        return "Enough, but less would do."
    gap = abs(line.shares[at + 1] - line.shares[at])
    more = "the next step more" if gap >= 0.01 else "a few steps more"
    return f"Not yet: {more} still changes {line.name}."
