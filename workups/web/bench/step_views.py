from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from workups.chemistry.plan import STEP_KINDS
from workups.documents import step_to_data
from workups.models import BenchRecord, Work
from workups.selectors.bench import step_entries
from workups.selectors.bench_lines import find_step_data, steps_as_done
from workups.selectors.plan_lines import flasks_at
from workups.services.bench import (
    RecordIsLocked,
    StepMark,
    record_bench_step,
    withdraw_bench_step,
)
from workups.services.plan_edits import new_step_id
from workups.web.access import CourseAccess, current_person
from workups.web.bench.access import get_record_for, refuse_if_locked
from workups.web.bench.forms import AddedStepForm, BenchForm, MarkStepForm
from workups.web.bench.step_data import known_step, last_done, planned_data, steps_until
from workups.web.bench.views import bench_context
from workups.web.planning.builder import new_step, verb_menu
from workups.web.requests import HtmxRequest, sent_data
from workups.web.step_forms import FlaskLists, StepForm, TypedData

FORM_METHODS = ["GET", "HEAD", "POST"]


def after_step(
    request: HtmxRequest, access: CourseAccess, work: Work, record: BenchRecord, step_id: str
) -> HttpResponse:
    """The list again: the fragment, or a redirect to the step."""
    if request.htmx:
        context = bench_context(access, work, record)
        return render(request, "workups/bench/_steps.html", context)
    url = reverse("show-bench", args=[work.public_id])
    return redirect(f"{url}#step-{step_id}")


@require_POST
def mark_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    access, work, record = get_record_for(current_person(request), work_id, to_change=True)
    data = find_step_data(record, step_id)
    if data is None:
        raise Http404
    form = MarkStepForm(request.POST)
    if not form.is_valid():
        messages.error(request, "That tap could not be read. Nothing was changed; try again.")
        return redirect("show-bench", work_id)
    try:
        save_mark(access, record, step_id, form)
    except RecordIsLocked:
        refuse_if_locked(request, record)
    return after_step(request, access, work, record, step_id)


def save_mark(
    access: CourseAccess, record: BenchRecord, step_id: str, form: MarkStepForm
) -> None:
    mark = form.cleaned_data["mark"]
    origin = form.origin(access.person, mark)
    if mark == "open":
        withdraw_bench_step(record=record, origin=origin, step_id=step_id)
        return
    planned = next(s for s in planned_data(record) if s["id"] == step_id)
    record_bench_step(
        record=record,
        origin=origin,
        mark=StepMark(step_id, mark, planned, remark=form.cleaned_data["remark"]),
    )


@require_http_methods(FORM_METHODS)
def change_bench_step(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    """What was really done at a step where that is not what was planned."""
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    data = find_step_data(record, step_id)
    if data is None:
        raise Http404
    if refuse_if_locked(request, record):
        return redirect("show-bench", work_id)
    entry = step_entries(record).get(step_id)
    added = entry is not None and entry.mark == "added"
    form = bench_step_form(request, work, record, data)
    token = BenchForm(sent_data(request))
    if changing and form.is_valid() and token.is_valid():
        mark = StepMark(
            step_id,
            "added" if added else "changed",
            step_to_data(form.to_step()),
            after=entry.after if entry else "",
        )
        record_bench_step(record=record, origin=token.origin(access.person), mark=mark)
        return after_step(request, access, work, record, step_id)
    context = {
        "access": access,
        "work": work,
        "form": form,
        "token": request.POST.get("client_token") or uuid4(),
        "heading": f"What was really done: {STEP_KINDS[data['verb']].title}",
        "step_id": step_id,
        "entry": "change",
        "about": step_id,
        "seen": entry.client_token if entry else "",
    }
    return render(request, "workups/bench/change_bench_step.html", context)


def bench_step_form(
    request: HtmxRequest, work: Work, record: BenchRecord, data: dict[str, Any]
) -> StepForm:
    steps = steps_as_done(record)
    return StepForm(
        request.POST if request.method == "POST" else TypedData(data),
        verb=data["verb"],
        step_id=data["id"],
        exercise=work.to_core(),
        flasks=FlaskLists(flasks_at(steps, data["id"])),
    )


@require_http_methods(FORM_METHODS)
def add_bench_step(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """A step that was not planned: first the verb, then what was done."""
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    if refuse_if_locked(request, record):
        return redirect("show-bench", work_id)
    asked = AddedStepForm(request.GET)
    chosen = asked.cleaned_data["verb"] if asked.is_valid() else ""
    after = asked.cleaned_data.get("after", "") if asked.is_valid() else last_done(record)
    steps = steps_as_done(record)
    if chosen not in STEP_KINDS:
        context = {
            "access": access,
            "work": work,
            "verb_groups": verb_menu(),
            "steps": [(s["id"], STEP_KINDS[s["verb"]].title) for s in steps],
            "after": after,
        }
        return render(request, "workups/bench/add_bench_step.html", context)
    return added_step_form(request, access, work, record, chosen, after)


def added_step_form(
    request: HtmxRequest,
    access: CourseAccess,
    work: Work,
    record: BenchRecord,
    verb: str,
    after: str,
) -> HttpResponse:
    steps = steps_as_done(record)
    known = known_step(record, steps, after)
    step_id = new_step_id({"steps": planned_data(record)})
    before = steps_until(steps, known)
    initial = new_step(verb, step_id, {"steps": before})["typed"]
    form = StepForm(
        sent_data(request),
        verb=verb,
        step_id=step_id,
        exercise=work.to_core(),
        flasks=FlaskLists(flasks_at(before, "")),
        initial=initial,
    )
    token = BenchForm(sent_data(request))
    if request.method == "POST" and form.is_valid() and token.is_valid():
        mark = StepMark(step_id, "added", step_to_data(form.to_step()), after=known)
        record_bench_step(record=record, origin=token.origin(access.person), mark=mark)
        return after_step(request, access, work, record, step_id)
    context = {
        "access": access,
        "work": work,
        "form": form,
        "token": request.POST.get("client_token") or uuid4(),
        "heading": f"Added at the bench: {STEP_KINDS[verb].title}",
        "step_id": known,
        "entry": "add",
        "about": verb,
    }
    return render(request, "workups/bench/change_bench_step.html", context)
