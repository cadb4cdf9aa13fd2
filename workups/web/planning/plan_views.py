from collections.abc import Callable
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from workups.chemistry.fields import NOTE_LENGTH
from workups.documents import step_to_data
from workups.models import PlanRevision, Work
from workups.selectors.plan_lines import PlanLine, plan_lines
from workups.selectors.plans import current_plan, find_plan, plan_history
from workups.services import plan_edits, planning
from workups.services.planning import (
    PlanIsAtTheBench,
    PlanIsIncomplete,
    PlanIsTooLarge,
    StalePlan,
)
from workups.web.access import CourseAccess, current_person
from workups.web.planning.access import get_work_for
from workups.web.planning.builder import (
    builder_context,
    new_step,
    open_form,
    plan_data,
    plan_is_sound,
)
from workups.web.planning.forms import (
    AddStepForm,
    MoveStepForm,
    RestorePlanForm,
    VersionForm,
)
from workups.web.requests import HtmxRequest
from workups.web.step_forms import StepForm

FORM_METHODS = ["GET", "HEAD", "POST"]
AT_THE_BENCH = "The plan is at the bench now and stays as it is. Record changes there."
SENT_WRONG = "That could not be read. The plan is as it was; try again from this page."


@require_safe
def build_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    return render_builder(request, access, work)


def render_builder(
    request: HtmxRequest, access: CourseAccess, work: Work, open_id: str = ""
) -> HttpResponse:
    context = builder_context(access, work, open_id)
    template = "_plan.html" if request.htmx else "build_plan.html"
    return render(request, f"workups/planning/{template}", context)


@require_http_methods(FORM_METHODS)
def edit_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    if not changing:
        return render_builder(request, access, work, step_id)
    lines = plan_lines(dict(plan_data(work)), work.to_core())
    line = next((line for line in lines if line.id == step_id), None)
    version = VersionForm(request.POST)
    if line is None or not version.is_valid():
        messages.error(request, SENT_WRONG)
        return back_to_builder(request, work)
    form = open_form(work, line, request.POST)
    filled_in = form.is_valid()
    still_typing = bool(request.htmx) and "close" not in request.POST
    too_long = form.too_long()
    for name in too_long:
        form.add_error(name, f"That is not saved: it has more than {NOTE_LENGTH} signs.")
    if too_long:
        return render_step_again(request, access, work, form, still_typing)
    step = step_from_form(form, line, still_typing)
    words = f"Changed step {line.number}, {line.title}"
    edit = plan_edits.put_step(step, words)
    stopped = apply_edit(request, access, work, version.cleaned_data["version"], edit)
    if stopped is not None:
        return stopped
    if still_typing:
        return render_step_again(request, access, work, form, still_typing)
    return after_edit(request, access, work, "" if filled_in else step_id, step_id)


def render_step_again(
    request: HtmxRequest, access: CourseAccess, work: Work, form: StepForm, still_typing: bool
) -> HttpResponse:
    """The form as it was sent; while somebody types in it, all but the fields themselves."""
    context = builder_context(access, work, form.step_id, form)
    if still_typing:
        return render(request, "workups/planning/_step_saved.html", context)
    template = "_plan.html" if request.htmx else "build_plan.html"
    return render(request, f"workups/planning/{template}", context)


def step_from_form(form: StepForm, line: PlanLine, still_typing: bool) -> plan_edits.StepData:
    """The step as filled in, or what was typed where that is not a step yet."""
    if form.is_valid():
        return step_to_data(form.to_step())
    typed = {"id": line.id, "verb": line.verb, "typed": form.typed()}
    return {**typed, "is_new": True} if line.is_new and still_typing else typed


def apply_edit(
    request: HtmxRequest,
    access: CourseAccess,
    work: Work,
    version: int,
    edit: plan_edits.PlanEdit,
) -> HttpResponse | None:
    """Save a change; the response to give where it could not be saved as it was meant."""
    try:
        planning.edit_plan(
            actor=access.person, work=work, base_version=version, edit=edit
        )
    except StalePlan as stale:
        url = reverse("choose-draft", args=[work.public_id, stale.aside.version])
        return HttpResponseClientRedirect(url) if request.htmx else redirect(url)
    except PlanIsAtTheBench:
        messages.error(request, AT_THE_BENCH)
        return back_to_builder(request, work)
    except PlanIsTooLarge as problem:
        messages.error(request, f"{problem} This change is not saved.")
        return back_to_builder(request, work)
    except plan_edits.NoSuchStep:
        messages.warning(request, "That step is no longer in the plan.")
        return back_to_builder(request, work)
    return None


def back_to_builder(request: HtmxRequest, work: Work) -> HttpResponse:
    url = reverse("build-plan", args=[work.public_id])
    return HttpResponseClientRedirect(url) if request.htmx else redirect(url)


def after_edit(
    request: HtmxRequest, access: CourseAccess, work: Work, open_id: str = "", at_id: str = ""
) -> HttpResponse:
    """The builder after a change: the fragment, or a redirect to the place of the change."""
    if request.htmx:
        return render_builder(request, access, work, open_id)
    if open_id:
        url = reverse("edit-step", args=[work.public_id, open_id])
        return redirect(f"{url}#step-{open_id}")
    url = reverse("build-plan", args=[work.public_id])
    return redirect(f"{url}#step-{at_id}" if at_id else url)


@require_POST
def add_step(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = AddStepForm(request.POST)
    if not form.is_valid():
        messages.error(request, SENT_WRONG)
        return back_to_builder(request, work)
    data = plan_data(work)
    step = new_step(form.cleaned_data["verb"], plan_edits.new_step_id(data), data)
    title = dict(form.fields["verb"].choices)[step["verb"]]  # type: ignore[attr-defined]
    edit = plan_edits.add_step(step, f"Added {title}", form.cleaned_data["after"])
    stopped = apply_edit(request, access, work, form.cleaned_data["version"], edit)
    return stopped or after_edit(request, access, work, step["id"])


@require_POST
def move_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = MoveStepForm(request.POST)
    if not form.is_valid():
        messages.error(request, SENT_WRONG)
        return back_to_builder(request, work)
    by = form.cleaned_data["by"]
    way = "down" if by > 0 else "up"
    far = f"{way} {abs(by)} places" if abs(by) > 1 else way
    words = f"Moved {title_of(work, step_id)} {far}"
    edit = plan_edits.move_step(step_id, by, words)
    stopped = apply_edit(request, access, work, form.cleaned_data["version"], edit)
    return stopped or after_edit(request, access, work, at_id=step_id)


def title_of(work: Work, step_id: str) -> str:
    lines = plan_lines(dict(plan_data(work)), work.to_core())
    line = next((line for line in lines if line.id == step_id), None)
    return f"step {line.number}, {line.title}" if line else "a step"


@require_POST
def duplicate_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)

    def duplicate() -> plan_edits.PlanEdit | None:
        data = plan_data(work)
        step = plan_edits.find_step(data, step_id)
        if step is None:
            return None
        copy = {**step, "id": plan_edits.new_step_id(data)}
        return plan_edits.add_step(copy, f"Duplicated {title_of(work, step_id)}", step_id)

    return change_step(request, access, work, duplicate)


@require_POST
def remove_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)

    def remove() -> plan_edits.PlanEdit:
        return plan_edits.remove_step(step_id, f"Removed {title_of(work, step_id)}")

    return change_step(request, access, work, remove)


def change_step(
    request: HtmxRequest,
    access: CourseAccess,
    work: Work,
    make_edit: Callable[[], plan_edits.PlanEdit | None],
) -> HttpResponse:
    """Apply a change that takes nothing but the version from the page."""
    form = VersionForm(request.POST)
    edit = make_edit() if form.is_valid() else None
    if edit is None:
        messages.error(request, SENT_WRONG)
        return back_to_builder(request, work)
    stopped = apply_edit(request, access, work, form.cleaned_data["version"], edit)
    return stopped or after_edit(request, access, work)


@require_POST
def restore_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    form = RestorePlanForm(request.POST)
    if not form.is_valid() or find_plan(work, form.cleaned_data["to_version"]) is None:
        messages.error(request, SENT_WRONG)
        return back_to_builder(request, work)
    try:
        planning.restore_plan(
            actor=access.person,
            work=work,
            version=form.cleaned_data["to_version"],
            base_version=form.cleaned_data["version"],
        )
    except PlanIsAtTheBench:
        messages.error(request, AT_THE_BENCH)
        return back_to_builder(request, work)
    except PlanIsTooLarge as problem:
        messages.error(request, f"{problem} The plan is as it was.")
        return back_to_builder(request, work)
    except StalePlan as stale:
        url = reverse("choose-draft", args=[work.public_id, stale.aside.version])
        return HttpResponseClientRedirect(url) if request.htmx else redirect(url)
    return after_edit(request, access, work)


@require_safe
def show_history(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    context = {
        "access": access,
        "work": work,
        "history": plan_history(work),
        "current": current_plan(work),
        "is_frozen": work.bench_record_id is not None,
    }
    return render(request, "workups/planning/show_history.html", context)


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
    context = builder_context(access, work)
    return render(request, "workups/planning/print_plan.html", context)


@require_http_methods(FORM_METHODS)
def submit_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    if not changing:
        return render(
            request, "workups/planning/submit_plan.html", builder_context(access, work)
        )
    form = VersionForm(request.POST)
    if not form.is_valid() or not plan_is_sound(work):
        messages.error(request, "The plan cannot be carried out as it stands. See the steps.")
        return back_to_builder(request, work)
    return hand_in(request, access, work, form.cleaned_data["version"])


def hand_in(
    request: HtmxRequest, access: CourseAccess, work: Work, version: int
) -> HttpResponse:
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
        return back_to_builder(request, work)
    except PlanIsAtTheBench:
        messages.error(request, AT_THE_BENCH)
        return back_to_builder(request, work)
    messages.success(request, "Your plan is handed in.")
    if work.cannot_be_carried_out:
        messages.warning(
            request,
            f"Nothing could be found in it: {work.hand_in_problem}. Your TA reads it before you "
            "go to the bench; you may also change it and hand it in again.",
        )
    return redirect("show-work", work.public_id)
