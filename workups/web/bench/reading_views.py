from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from workups.grading.exercise import Exercise
from workups.models import BenchRecord, Reading, ReadingKind, Work
from workups.selectors.bench import all_readings, standing_readings
from workups.selectors.bench_lines import BenchLine, bench_lines, find_step_data
from workups.selectors.plan_lines import produced_by
from workups.selectors.reagents import lines_of
from workups.services import bench as bench_services
from workups.services.bench import AlreadyCorrected, ReadingValues, RecordIsLocked
from workups.web.access import CourseAccess, current_person
from workups.web.bench.access import get_record_for, refuse_if_locked
from workups.web.bench.correction_forms import StrikeForm, correction_form
from workups.web.bench.forms import (
    BenchForm,
    DryingForm,
    PartForm,
    ReagentsUsedForm,
    VolumeForm,
    WeighingForm,
    WitnessForm,
)
from workups.web.bench.tables import TargetTable, reading_rows, target_table
from workups.web.requests import HtmxRequest, sent_data

FORM_METHODS = ["GET", "HEAD", "POST"]


def to_bench(work: Work, anchor: str) -> HttpResponse:
    url = reverse("show-bench", args=[work.public_id])
    return redirect(f"{url}#{anchor}")


def save_entries(
    request: HtmxRequest,
    access: CourseAccess,
    record: BenchRecord,
    form: BenchForm,
    entries: Sequence[ReadingValues],
) -> None:
    try:
        bench_services.record_readings(
            record=record, origin=form.origin(access.person), entries=entries
        )
    except RecordIsLocked:
        refuse_if_locked(request, record)


def target_or_404(exercise: Exercise, key: str) -> str:
    if key not in {target.substance for target in exercise.setup.targets}:
        raise Http404
    return key


@require_POST
def record_weighing(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    return record_on_balance(request, work_id, WeighingForm, "%s-%%s", "weighing_form")


@require_POST
def record_part(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """A part of a divided sample: to a partner, kept, or used in a test."""
    return record_on_balance(request, work_id, PartForm, "%s-part-%%s", "part_form")


def record_on_balance(
    request: HtmxRequest,
    work_id: UUID,
    kind: type[WeighingForm] | type[PartForm],
    auto_id: str,
    name: str,
) -> HttpResponse:
    """Keep what the balance showed for a target, or show the form `name` again with its faults.

    `auto_id` is the pattern of the fields' ids, with a place for the target before theirs.
    """
    access, work, record = get_record_for(current_person(request), work_id, to_change=True)
    exercise = work.to_core()
    key = target_or_404(exercise, request.POST.get("target", ""))
    form = kind(
        request.POST,
        readability_g=exercise.setup.glassware.balance_readability_g,
        auto_id=auto_id % key,
    )
    if form.is_valid():
        save_entries(request, access, record, form, [form.values()])
        return after_target(request, access, work, record, key)
    return render_target(request, access, work, record, key, **{name: form})


@require_POST
def record_witness(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    access, work, record = get_record_for(current_person(request), work_id, to_change=True)
    key = target_or_404(work.to_core(), request.POST.get("target", ""))
    form = WitnessForm(request.POST, auto_id=f"{key}-sign-%s")
    if form.is_valid():
        save_entries(request, access, record, form, [form.values()])
        return after_target(request, access, work, record, key)
    return render_target(request, access, work, record, key, witness_form=form)


def after_target(
    request: HtmxRequest, access: CourseAccess, work: Work, record: BenchRecord, key: str
) -> HttpResponse:
    if request.htmx:
        return render_target(request, access, work, record, key)
    return to_bench(work, f"target-{key}")


def render_target(
    request: HtmxRequest,
    access: CourseAccess,
    work: Work,
    record: BenchRecord,
    key: str,
    **forms: BenchForm,
) -> HttpResponse:
    """One product's readings: the fragment, or a page of its own that keeps what was typed."""
    table = target_table(all_readings(record), key, work.to_core())
    shown = TargetTable(**{**vars(table), **forms})
    context = {
        "access": access,
        "work": work,
        "target": shown,
        "is_open": not refuse_if_locked(request, record),
    }
    template = "_target.html" if request.htmx else "record_target.html"
    return render(request, f"workups/bench/{template}", context)


def line_or_404(work: Work, record: BenchRecord, step_id: str) -> BenchLine:
    lines = bench_lines(record, work.to_core())
    line = next((line for line in lines if line.id == step_id), None)
    if line is None:
        raise Http404
    return line


@require_http_methods(FORM_METHODS)
def record_drying(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    line = line_or_404(work, record, step_id)
    if not line.takes_drying:
        raise Http404
    if refuse_if_locked(request, record):
        return to_bench(work, f"step-{step_id}")
    recorded = [r.kind for r in line.readings]
    form = DryingForm(sent_data(request), step_id=step_id, recorded=recorded)
    if changing and form.is_valid():
        save_entries(request, access, record, form, form.entries())
        return to_bench(work, f"step-{step_id}")
    return render_step_readings(request, access, work, line, form)


@require_http_methods(FORM_METHODS)
def record_volume(request: HtmxRequest, work_id: UUID, step_id: str) -> HttpResponse:
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    line = line_or_404(work, record, step_id)
    if not line.takes_volumes:
        raise Http404
    if refuse_if_locked(request, record):
        return to_bench(work, f"step-{step_id}")
    data = find_step_data(record, step_id) or {}
    form = VolumeForm(sent_data(request), step_id=step_id, flasks=produced_by(data))
    if changing and form.is_valid():
        save_entries(request, access, record, form, [form.values()])
        return to_bench(work, f"step-{step_id}")
    return render_step_readings(request, access, work, line, form)


def render_step_readings(
    request: HtmxRequest, access: CourseAccess, work: Work, line: BenchLine, form: BenchForm
) -> HttpResponse:
    context = {
        "access": access,
        "work": work,
        "line": line,
        "form": form,
        "entry": "drying" if isinstance(form, DryingForm) else "volume",
        "rows": reading_rows(
            r for r in all_readings(line_record(work)) if r.step_id == line.id
        ),
        "is_open": True,
    }
    return render(request, "workups/bench/record_step_readings.html", context)


def line_record(work: Work) -> BenchRecord:
    if work.bench_record is None:
        raise Http404
    return work.bench_record


@require_http_methods(FORM_METHODS)
def record_reagents(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The amounts really used, where they were measured out by the student."""
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    if refuse_if_locked(request, record):
        return to_bench(work, "reagents")
    recorded = {
        r.subject for r in standing_readings(record) if r.kind == ReadingKind.REAGENT
    }
    lines = [
        line for line in lines_of(work) if not line.is_product and line.key not in recorded
    ]
    form = ReagentsUsedForm(sent_data(request), lines=lines)
    if changing and form.is_valid():
        save_entries(request, access, record, form, form.entries())
        return to_bench(work, "reagents")
    context = {"access": access, "work": work, "form": form, "lines": lines}
    return render(request, "workups/bench/record_reagents.html", context)


@require_http_methods(FORM_METHODS)
def correct_reading(request: HtmxRequest, work_id: UUID, reading_id: int) -> HttpResponse:
    """A new reading in place of an old one, or a line through it; the old one stays readable."""
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    reading = get_object_or_404(Reading, pk=reading_id, record=record, withdrawn=False)
    if refuse_if_locked(request, record):
        return to_bench(work, anchor_of(reading))
    striking = "strike" in request.POST
    form = StrikeForm(request.POST) if striking else correction_form(reading, sent_data(request))
    if changing and form.is_valid():
        save_correction(request, access, reading, form)
        return to_bench(work, anchor_of(reading))
    context: dict[str, Any] = {
        "access": access,
        "work": work,
        "reading": reading,
        "form": correction_form(reading) if striking else form,
        "strike_form": form if striking else StrikeForm(auto_id="strike-%s"),
    }
    return render(request, "workups/bench/correct_reading.html", context)


def save_correction(
    request: HtmxRequest, access: CourseAccess, reading: Reading, form: Any
) -> None:
    origin, reason = form.origin(access.person), form.cleaned_data["reason"]
    try:
        if isinstance(form, StrikeForm):
            bench_services.withdraw_reading(reading=reading, origin=origin, reason=reason)
        else:
            bench_services.correct_reading(
                reading=reading, origin=origin, values=form.values(), reason=reason
            )
    except AlreadyCorrected:
        messages.warning(
            request, "That entry was corrected already. Correct the one that took its place."
        )
    except RecordIsLocked:
        refuse_if_locked(request, reading.record)


def anchor_of(reading: Reading) -> str:
    if reading.step_id:
        return f"step-{reading.step_id}"
    return "reagents" if reading.kind == ReadingKind.REAGENT else f"target-{reading.subject}"
