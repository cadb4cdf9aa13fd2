from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from workups.models import Work
from workups.selectors.journey import journey_of, next_action
from workups.selectors.marks import marks_of
from workups.selectors.reagents import answers_of, lines_of
from workups.selectors.reports import is_released
from workups.selectors.works import dates_of, partners_of, works_of
from workups.services.reagents import ReagentTableIsClosed, save_reagent_table
from workups.services.works import start_works_of
from workups.web.access import STUDENT, CourseAccess, current_person, get_course_for, get_work_for
from workups.web.planning.forms import ReagentTableForm, table_context
from workups.web.requests import FORM_METHODS, HtmxRequest, sent_data


@require_safe
def list_work(request: HtmxRequest, course_id: UUID) -> HttpResponse:
    access = get_course_for(current_person(request), course_id, STUDENT)
    if not access.course.is_archived:
        start_works_of(enrolment=access.enrolment)
    works = [w for w in works_of(access.person) if w.enrolment_id == access.enrolment.pk]
    lines = [work_line(work) for work in works]
    context = {
        "access": access,
        "came_back": [line for line in lines if line["is_released"]],
        "to_do": [line for line in lines if not line["is_released"]],
    }
    return render(request, "workups/planning/list_work.html", context)


def work_line(work: Work) -> dict[str, Any]:
    released = is_released(work)
    return {
        "work": work,
        "action": next_action(work),
        "dates": dates_of(work),
        "is_released": released,
        "marks": marks_of(work) if released else None,
    }


@require_safe
def show_work(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    context = {
        "access": access,
        "work": work,
        "exercise": work.to_core(),
        "dates": dates_of(work),
        "action": next_action(work),
        "stages": journey_of(work),
        "partners": partners_of(work),
    }
    return render(request, "workups/planning/show_work.html", context)


@require_http_methods(FORM_METHODS)
def fill_reagents(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work = get_work_for(current_person(request), work_id, to_change=changing)
    form = ReagentTableForm(sent_data(request), lines=lines_of(work), answers=answers_of(work))
    if not changing or not form.is_valid():
        return render_reagents(request, access, work, form)
    try:
        save_reagent_table(work=work, answers=form.answers())
    except ReagentTableIsClosed:
        messages.error(request, "The reagent table is closed: your plan is handed in and due.")
        return redirect("fill-reagents", work_id)
    if request.htmx:
        return render_reagents(request, access, work, form)
    return redirect("fill-reagents", work_id)


def render_reagents(
    request: HtmxRequest, access: CourseAccess, work: Work, form: ReagentTableForm
) -> HttpResponse:
    context = {"access": access, "work": work, "form": form, **table_context(work, form)}
    live = request.htmx and request.method == "POST"
    template = "_reagents_checked.html" if live else "fill_reagents.html"
    return render(request, f"workups/planning/{template}", context)
