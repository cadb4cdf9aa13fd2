from dataclasses import dataclass
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from workups.chemistry.plan import Plan
from workups.grading.trying import Trial, ideas_of
from workups.grading.visibility import Moment
from workups.models import Work
from workups.selectors.marks import marked_snapshot
from workups.selectors.reports import moment_of
from workups.selectors.self_checks import draws_shakes
from workups.services.computing import CannotBeCarriedOut
from workups.services.trying import tried
from workups.sheets.choice_curve import choice_figure, said
from workups.sheets.svg import Figure
from workups.web.access import current_person, get_work_for
from workups.web.planning.shake_views import filled_in
from workups.web.requests import HtmxRequest
from workups.words.numbers import percent


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
