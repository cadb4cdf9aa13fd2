from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from workups.chemistry.plan import Parting, Plan, Step
from workups.grading.assessment import Assessment
from workups.grading.visibility import Moment, shown_steps
from workups.models import SelfCheck, Work
from workups.selectors.plans import current_plan
from workups.selectors.self_checks import (
    Changes,
    asks_first,
    changes_since,
    checks_of,
    draws_scheme,
    find_self_check,
    met_words,
    policy_of,
    remarks_of,
    verdict_of,
)
from workups.selectors.student_findings import (
    StudentCheck,
    findings_by_step,
    found_at_steps,
    product_places,
)
from workups.services import self_checks
from workups.services.computing import CannotBeCarriedOut
from workups.services.planning import PlanIsIncomplete
from workups.services.self_checks import CheckIsRunning, NoAttemptsLeft, SelfCheckIsOff
from workups.sheets.funnel import funnel_figure
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import Figure
from workups.web.access import current_person, get_work_for
from workups.web.planning.builder import pictured, plan_is_sound
from workups.web.requests import HtmxRequest


@require_POST
def self_check(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    if not plan_is_sound(work):
        messages.error(request, "Fill in every step first: a plan is checked by carrying it out.")
        return redirect("build-plan", work_id)
    try:
        attempt = self_checks.self_check(actor=access.person, work=work)
    except SelfCheckIsOff:
        messages.error(request, "This exercise has no self-check before the deadline.")
    except CheckIsRunning:
        messages.warning(
            request, "A self-check of yours is still being computed. Try again in a minute."
        )
    except NoAttemptsLeft:
        messages.error(request, "You have used all your self-checks for this exercise.")
    except PlanIsIncomplete as problem:
        messages.error(request, str(problem))
    except CannotBeCarriedOut as problem:
        messages.error(request, f"Your plan is saved. It could not be checked: {problem}.")
    else:
        return redirect("show-self-check", work_id, attempt.attempt)
    return redirect("build-plan", work_id)


def self_check_figures(work: Work, plan: Plan, assessment: Assessment) -> list[Figure]:
    """The funnel after each shake, in shares."""
    exercise = work.to_core()
    steps = shown_steps(assessment, Moment.PLANNING)
    return [
        funnel_figure(exercise, plan, steps, step.id, shares_only=True)
        for step in plan.of(Parting)
    ]


def self_check_scheme(
    work: Work, plan: Plan, assessment: Assessment, checks: list[StudentCheck]
) -> Figure:
    """The scheme of the plan that was checked, in shares, with what was found at its steps."""
    notes = findings_by_step(remark.found for remark in remarks_of(checks))

    def address(step: Step) -> str:
        if step.id in notes:
            return f"#{notes[step.id][0].anchor}"
        return f"{reverse('build-plan', args=[work.public_id])}#step-{step.id}"

    return scheme_figure(
        work.to_core(),
        plan,
        shown_steps(assessment, Moment.PLANNING),
        shares_only=True,
        remarks=found_at_steps(f.finding for check in checks for f in check.findings),
        link=address,
    )


def changes_of(work: Work, check: SelfCheck, now: list[StudentCheck]) -> Changes | None:
    """What is otherwise than at the self-check before; None where there was none."""
    before = find_self_check(work, check.attempt - 1)
    said = self_checks.shown_of(before, work) if before else None
    if before is None or said is None or not now:
        return None
    return changes_since(before.attempt, checks_of(before, said), now)


@require_safe
def show_self_check(request: HtmxRequest, work_id: UUID, attempt: int) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    found = find_self_check(work, attempt)
    if found is None:
        raise Http404
    plan, exercise = found.plan_revision.to_core(), work.to_core()
    current = current_plan(work)
    said = self_checks.shown_of(found, work)
    checks = checks_of(found, said)
    drawn = pictured(found, said)
    places = product_places(drawn, plan, Moment.PLANNING, exercise.setup.tables) if drawn else []
    context = {
        "access": access,
        "work": work,
        "attempt": found,
        "is_current": current is not None and current.data == found.plan_revision.data,
        "checks": checks,
        "results": [(check, met_words(check, places)) for check in checks],
        "verdict": verdict_of(checks, places) if checks else None,
        "remarks": remarks_of(checks),
        "changes": changes_of(work, found, checks),
        "has_reaction": bool(exercise.setup.reaction.products),
        "policy": policy_of(work),
        "scheme": self_check_scheme(work, plan, drawn, checks)
        if drawn and draws_scheme(work) else None,
        "figures": self_check_figures(work, plan, drawn) if drawn and not asks_first(work) else [],
        "shakes": [
            (plan.index(step.id) + 1, step) for step in plan.of(Parting)
        ] if asks_first(work) else [],
        "places": places,
    }
    return render(request, "workups/planning/show_self_check.html", context)
