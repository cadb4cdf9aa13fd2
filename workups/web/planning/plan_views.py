from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import PlanRevision, Work
from workups.selectors.holds import held_for, waits_for_a_word
from workups.selectors.plans import current_plan, earlier_plans, find_plan, plan_history, plan_lines
from workups.services import plan_edits, planning
from workups.services.plan_edits import PlanEdit
from workups.services.planning import PlanIsAtTheBench, PlanIsIncomplete, PlanIsTooLarge, StalePlan
from workups.web.access import CourseAccess, current_person, get_work_for
from workups.web.plan_editor import SENT_WRONG, NotSaved, VersionForm, after_change, edit_steps
from workups.web.planning.builder import AT_THE_BENCH, StudentPlan, fitted_to, plan_is_sound
from workups.web.planning.forms import CopyPlanForm, RestorePlanForm
from workups.web.requests import FORM_METHODS, HtmxRequest


@require_http_methods(FORM_METHODS)
def build_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    return edit_steps(request, StudentPlan(access, work))


@require_POST
def restore_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    editor, form = StudentPlan(access, work), RestorePlanForm(request.POST)
    if not form.is_valid() or find_plan(work, form.cleaned_data["to_version"]) is None:
        messages.error(request, SENT_WRONG)
        return editor.moved(request)
    try:
        go_back = planning.undo_plan if form.cleaned_data["undo"] else planning.restore_plan
        editor.plan = go_back(
            actor=access.person,
            work=work,
            version=form.cleaned_data["to_version"],
            base_version=form.cleaned_data["version"],
        )
    except (PlanIsAtTheBench, PlanIsTooLarge) as problem:
        at_bench = isinstance(problem, PlanIsAtTheBench)
        messages.error(request, AT_THE_BENCH if at_bench else f"{problem} The plan is as it was.")
        return editor.moved(request)
    except StalePlan as stale:
        return editor.choose(request, stale)
    return after_change(request, editor)


@require_POST
def copy_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Begin an empty plan with the steps of another own one."""
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    editor, form = StudentPlan(access, work), CopyPlanForm(request.POST)
    if not form.is_valid() or editor.data["steps"]:
        messages.error(request, SENT_WRONG)
        return editor.moved(request)
    asked = form.cleaned_data["source"]
    source = next((plan for plan in earlier_plans(work) if plan.work.public_id == asked), None)
    if source is None:
        raise Http404
    steps = fitted_to(source.data, editor.exercise)
    edit = PlanEdit(f"Copied the plan of {source.work.revision.title}", lambda _: steps)
    try:
        editor.save(request, edit, form.cleaned_data["version"])
    except NotSaved as instead:
        return instead.answer
    return after_change(request, editor)


@require_safe
def show_plan_history(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    context = {
        "access": access,
        "work": work,
        "history": plan_history(work),
        "current": current_plan(work),
        "is_frozen": work.bench_record_id is not None,
    }
    return render(request, "workups/planning/show_plan_history.html", context)


def find_plan_or_404(work: Work, version: int) -> PlanRevision:
    plan = find_plan(work, version)
    if plan is None:
        raise Http404
    return plan


@require_safe
def show_plan_version(request: HtmxRequest, work_id: UUID, version: int) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    plan = find_plan_or_404(work, version)
    context = {
        "access": access,
        "work": work,
        "plan": plan,
        "lines": plan_lines(plan.data, work.to_core()),
        "current": current_plan(work),
        "is_frozen": work.bench_record_id is not None,
    }
    return render(request, "workups/planning/show_plan_version.html", context)


@require_safe
def choose_draft(request: HtmxRequest, work_id: UUID, version: int) -> HttpResponse:
    """Two tabs changed the same step: both drafts are kept, and the student chooses."""
    access, work = get_work_for(current_person(request), work_id)
    aside = find_plan_or_404(work, version)
    current = current_plan(work)
    if current is None or not aside.aside:
        return redirect("build-plan", work_id)
    exercise = work.to_core()
    mine = plan_lines(aside.data, exercise)
    other = plan_lines(current.data, exercise)
    context = {
        "access": access,
        "work": work,
        "aside": aside,
        "current": current,
        "mine": mine,
        "other": other,
        "differing": differing_ids(aside, current),
    }
    return render(request, "workups/planning/choose_draft.html", context)


def differing_ids(aside: PlanRevision, current: PlanRevision) -> set[str]:
    """Ids of the steps that are not alike in two drafts."""
    ids = {step["id"] for step in (*aside.data["steps"], *current.data["steps"])}
    return {
        i
        for i in ids
        if plan_edits.find_step(aside.data, i) != plan_edits.find_step(current.data, i)
    }


@require_safe
def print_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    context = StudentPlan(access, work).all_context()
    return render(request, "workups/planning/print_plan.html", context)


@require_http_methods(FORM_METHODS)
def submit_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    if not changing:
        context = StudentPlan(access, work).all_context()
        return render(request, "workups/planning/submit_plan.html", context)
    form = VersionForm(request.POST)
    if not form.is_valid() or not plan_is_sound(work):
        messages.error(request, "The plan cannot be carried out as it stands. See the steps.")
        return redirect("build-plan", work.public_id)
    return hand_in(request, access, work, form.cleaned_data["version"])


def hand_in(request: HtmxRequest, access: CourseAccess, work: Work, version: int) -> HttpResponse:
    try:
        planning.submit_plan(actor=access.person, work=work, base_version=version)
    except StalePlan:
        messages.warning(
            request,
            "The plan was changed in another window since this page was loaded. Look at it, then "
            "hand it in.",
        )
        return redirect("submit-plan", work.public_id)
    except PlanIsIncomplete as problem:
        messages.error(request, str(problem))
        return redirect("build-plan", work.public_id)
    except PlanIsAtTheBench:
        messages.error(request, AT_THE_BENCH)
        return redirect("build-plan", work.public_id)
    messages.success(request, "Your plan is handed in.")
    if work.cannot_be_carried_out:
        messages.warning(
            request,
            f"Nothing could be found in it: {work.hand_in_problem}. Your TA reads it before you "
            "go to the bench; you may also change it and hand it in again.",
        )
    elif waits_for_a_word(work):
        held = "; ".join(dict.fromkeys(hold.title for hold in held_for(work)))
        messages.warning(
            request,
            f"It waits for your TA’s word before it goes to the bench: {held}. Show it to your TA, "
            "or change it and hand it in again.",
        )
    return redirect("show-work", work.public_id)
