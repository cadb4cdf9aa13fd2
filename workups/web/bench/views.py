from dataclasses import replace
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.models import BenchRecord, Work
from workups.selectors.bench import rows_of, standing_readings, weighings_of
from workups.selectors.bench_lines import BenchLine, bench_lines, last_marked
from workups.selectors.double_entry import added_on_sheet
from workups.selectors.holds import clearance_of, held_for, waits_for_a_word
from workups.selectors.plans import current_plan, submitted_plan
from workups.selectors.works import (
    dates_of,
    last_share_asked_by,
    partners_of,
    readings_are_locked,
    record_is_locked,
    shares_asked_of,
)
from workups.services import bench as bench_services
from workups.services.bench import HoldIsOpen, NoSubmittedPlan
from workups.services.hand_ins import NotAssessedYet
from workups.services.reports import lock_readings as lock_readings_service
from workups.web.access import CourseAccess, current_person, get_record_for, get_work_for
from workups.web.bench.entries import kinds_at, kinds_of
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.record import REST, Bench, place_of, with_neighbours
from workups.web.bench.tables import reagent_rows, target_tables
from workups.web.requests import FORM_METHODS, HtmxRequest


class JoinBenchForm(forms.Form):
    code = forms.CharField(
        label="Your partner's bench code",
        max_length=8,
        help_text="It stands on your partner's page of this exercise, under “Bench code”.",
    )

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).strip().upper()


@require_safe
def show_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id)
    if work.bench_record is None:
        return render_before_bench(request, access, work, JoinBenchForm())
    context = bench_context(access, work, work.bench_record)
    context["at"] = place_of(request.GET.get("step", ""), context["lines"])
    return render(request, "workups/bench/show_bench.html", context)


def bench_context(access: CourseAccess, work: Work, record: BenchRecord) -> dict[str, Any]:
    exercise = work.to_core()
    bench = Bench(access.person, work, record)
    lines = [
        replace(line, links=links_of(work, line))
        for line in with_neighbours(bench_lines(record, exercise))
    ]
    targets = target_tables(record, exercise)
    return {
        "access": access,
        "work": work,
        "exercise": exercise,
        "record": record,
        "lines": lines,
        "is_locked": record_is_locked(record),
        "is_open": not record_is_locked(record) and not access.course.is_archived,
        "last_marked": last_marked(lines),
        "left": sum(not line.mark for line in lines),
        "row_count": rows_of(record),
        "weighed_at": [REST, *(line.id for line in lines if line.step.weighs)],
        "added_on_sheet": added_on_sheet(record),
        "targets": [(table, target_forms(bench, table.key)) for table in targets],
        "other_readings": reagent_rows(record, exercise),
        "partners": partners_of(work),
        "asked_to_share": shares_asked_of(record),
        "dates": dates_of(work),
    }


def links_of(work: Work, line: BenchLine) -> tuple[tuple[str, str], ...]:
    """Addresses and words of what may be recorded at a step."""
    return tuple(
        (reverse("record-entry", args=[work.public_id, kind.entry, line.id]), kind.summary)
        for kind in kinds_at(line.step)
    )


def target_forms(
    bench: Bench, key: str, sent: EntryForm | None = None, *, at_station: bool = False
) -> list[EntryForm]:
    """The forms for the next reading of a product; one that was sent as it was."""
    return [
        sent if sent is not None and type(sent) is kind else kind(bench=bench, about=key)
        for kind in kinds_of(Of.TARGET)
        if kind.at_station or not at_station
    ]


def render_before_bench(
    request: HtmxRequest, access: CourseAccess, work: Work, form: JoinBenchForm
) -> HttpResponse:
    plan = submitted_plan(work)
    current = current_plan(work)
    context = {
        "access": access,
        "work": work,
        "exercise": work.to_core(),
        "plan": plan,
        "is_changed": plan is not None and current is not None and current.data != plan.data,
        "is_held": waits_for_a_word(work),
        "holds": held_for(work) if work.is_assessed else [],
        "clearance": clearance_of(plan) if plan else None,
        "is_over": readings_are_locked(work),
        "join_form": form,
        "share": last_share_asked_by(work),
    }
    return render(request, "workups/bench/before_bench.html", context)


@require_POST
def start_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work = get_work_for(current_person(request), work_id, to_change=True)
    if readings_are_locked(work):
        messages.error(request, "The time for this exercise is over.")
        return redirect("show-bench", work_id)
    try:
        bench_services.start_bench(actor=access.person, work=work)
    except NoSubmittedPlan:
        messages.error(request, "Hand in a plan first: the record works it down.")
    except HoldIsOpen:
        messages.error(request, "Your plan waits for your TA's word. Ask them to look at it.")
    except NotAssessedYet:
        messages.error(request, "Your plan is being assessed. Begin in a moment.")
    return redirect("show-bench", work_id)


@require_http_methods(FORM_METHODS)
def lock_readings(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    if record_is_locked(record):
        return redirect("show-report", work_id)
    if changing:
        lock_readings_service(actor=access.person, record=record)
        messages.success(request, "The readings are locked. Now the report.")
        return redirect("show-report", work_id)
    context = {**bench_context(access, work, record), "missing": missing_readings(work, record)}
    return render(request, "workups/bench/lock_readings.html", context)


def missing_readings(work: Work, record: BenchRecord) -> list[str]:
    """What a yield needs and the record has not, in words."""
    readings = standing_readings(record)
    missing = []
    for target in work.to_core().setup.targets:
        weighings = weighings_of(readings, target.substance)
        if not weighings.tares:
            missing.append("a tare")
        if not weighings.grosses:
            missing.append("a gross reading")
        elif len(weighings.grosses) < 2:
            missing.append("a second gross reading, to see constant mass")
    return missing
