from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from workups.models import Assignment, BenchTick, Work
from workups.selectors.door import (
    MISSING,
    DoorLine,
    door_line,
    door_lines,
    handed_in_lines,
    lab_lines,
)
from workups.services import bench, door
from workups.services.door import AnotherPlan, HoldStands, NothingIsHeld, PlanIsMissing
from workups.services.hand_ins import NotAssessedYet
from workups.web.access import CourseAccess, current_person, get_assignment_for, get_work_to_review
from workups.web.requests import HtmxRequest
from workups.web.review.forms import AdmissionForm, ClearHoldForm, TickForm

NEW_JUST_NOW = "Something new came in just now and is being assessed. Look again in a moment."


@require_safe
def show_door(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(current_person(request), assignment_id)
    return render_door(request, access, assignment)


def render_door(
    request: HtmxRequest,
    access: CourseAccess,
    assignment: Assignment,
    sent: tuple[UUID, ClearHoldForm] | None = None,
) -> HttpResponse:
    """The list; `sent` is a form that came back wrong, with the work it is about."""
    lines = door_lines(assignment)
    rows = []
    for line in lines:
        form = clear_hold_form(line)
        if sent is not None and sent[0] == line.work.public_id:
            form = sent[1]
        rows.append((line, form))
    context = {
        "access": access,
        "assignment": assignment,
        "rows": rows,
        "missing": sum(line.state == MISSING for line in lines),
        "admitted": sum(line.is_admitted for line in lines),
        "is_open": not access.course.is_archived,
    }
    template = "_door.html" if request.htmx and request.method == "GET" else "show_door.html"
    return render(request, f"workups/review/{template}", context)


def clear_hold_form(line: DoorLine) -> ClearHoldForm:
    return bound_hold_form(line.work, None, initial={"seen": line.version})


def bound_hold_form(work: Work, data: QueryDict | None, **more: Any) -> ClearHoldForm:
    label, auto_id = "Why it may go to the bench", f"{work.public_id}-%s"
    return ClearHoldForm(data, label=label, auto_id=auto_id, **more)


@require_safe
def read_plan(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The plan handed in, to be read at the door with the student."""
    access, work = get_work_to_review(current_person(request), work_id)
    line = door_line(work)
    context = {
        "access": access,
        "work": work,
        "assignment": work.assignment,
        "line": line,
        "lines": handed_in_lines(work, line.holds),
        "form": clear_hold_form(line),
        "is_open": not access.course.is_archived,
    }
    return render(request, "workups/review/read_plan.html", context)


@require_POST
def admit_work(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    form = AdmissionForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Say whether the student is admitted.")
    elif form.cleaned_data["admitted"]:
        _admit(request, access, work)
    else:
        door.take_back_admission(actor=access.person, work=work)
        url = reverse("show-door", args=[work.assignment.public_id])
        return redirect(f"{url}#work-{work.bench_code}")
    return redirect("show-door", work.assignment.public_id)


def _admit(request: HtmxRequest, access: CourseAccess, work: Work) -> None:
    """Said by name at the top of the list, where those who wait stand."""
    try:
        door.admit_work(actor=access.person, work=work)
    except PlanIsMissing:
        messages.error(request, "There is no plan yet.")
    except HoldStands:
        messages.error(request, hold_words(work))
    except NotAssessedYet:
        messages.error(request, NEW_JUST_NOW)
    else:
        messages.success(request, f"{work.student} is admitted.")


def hold_words(work: Work) -> str:
    if work.cannot_be_carried_out:
        return (
            f"Nothing could be found in the plan: {work.hand_in_problem}. "
            "Read it for safety and clear it, with a reason."
        )
    return "The plan has a safety hold. Clear it first, with a reason."


@require_POST
def clear_hold(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    form = bound_hold_form(work, request.POST)
    if not form.is_valid():
        return render_door(request, access, work.assignment, (work.public_id, form))
    try:
        door.clear_hold(
            actor=access.person,
            work=work,
            reason=form.cleaned_data["reason"],
            seen=form.cleaned_data["seen"],
        )
    except NothingIsHeld:
        messages.warning(request, "This plan is not held any more.")
    except PlanIsMissing:
        messages.error(request, "There is no plan yet.")
    except NotAssessedYet:
        messages.error(request, NEW_JUST_NOW)
        return redirect("show-door", work.assignment.public_id)
    except AnotherPlan:
        messages.error(
            request,
            f"{work.student} has handed in another plan since you opened the page. Read that one.",
        )
        return redirect("show-door", work.assignment.public_id)
    else:
        messages.success(request, f"The hold on {work.student}'s plan is cleared.")
    if form.cleaned_data["admit"]:
        _admit(request, access, work)
    return redirect("show-door", work.assignment.public_id)


@require_safe
def show_lab(request: HtmxRequest, assignment_id: UUID) -> HttpResponse:
    access, assignment = get_assignment_for(current_person(request), assignment_id)
    lines = lab_lines(assignment)
    context = {
        "access": access,
        "assignment": assignment,
        "waiting": [line for line in lines if line.waits],
        "lines": lines,
        "is_open": not access.course.is_archived,
    }
    template = "_lab.html" if request.htmx else "show_lab.html"
    return render(request, f"workups/review/{template}", context)


@require_POST
def tick_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_to_review(current_person(request), work_id, to_change=True)
    form = TickForm(request.POST)
    if work.bench_record is None:
        messages.error(request, "This student has not begun at the bench.")
    elif not form.is_valid():
        messages.error(request, "Say what was seen.")
    else:
        tick = bench.tick_bench(
            actor=access.person,
            record=work.bench_record,
            kind=BenchTick.Kind(form.cleaned_data["kind"]),
            step_id=form.cleaned_data["step_id"],
            remark=form.cleaned_data["remark"],
        )
        messages.success(request, f"{work.student}: {tick.get_kind_display().lower()}.")
    return redirect("show-lab", work.assignment.public_id)
