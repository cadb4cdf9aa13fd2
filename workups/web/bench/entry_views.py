"""The doors to a bench record: the page of an entry, and what a device with a queue asks."""

import json
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpResponse, JsonResponse, QueryDict
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from workups.chemistry.plan import STEP_KINDS
from workups.models import BenchRecord, Reading
from workups.selectors.bench import all_readings, rows_of
from workups.web.access import CourseAccess, current_person, get_record_for, refuse_if_locked
from workups.web.bench.entries import CORRECT, Answer, enter, entry_form, is_known
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.record import REST, Bench, bench_address, place_after
from workups.web.bench.step_kinds import AddForm, MarkForm
from workups.web.bench.tables import reading_rows, target_table
from workups.web.bench.views import bench_context, target_forms
from workups.web.plan_editor import verb_menu
from workups.web.requests import FORM_METHODS, HtmxRequest


def to_bench(bench: Bench, anchor: str = "") -> HttpResponse:
    return redirect(bench_address(bench.work, anchor))


@require_http_methods(FORM_METHODS)
def record_entry(request: HtmxRequest, work_id: UUID, entry: str, about: str = "") -> HttpResponse:
    """One entry of whatever kind: its form, and what was sent with it."""
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    bench = Bench(access.person, work, record)
    if changing:
        form = entry_form(bench, entry, about, request.POST)
        (answer,) = enter(bench, [form])
        page = after_entry(request, access, form, answer)
        if answer.is_saved:
            page.headers["Bench-Saved"] = json.dumps(saved_of(record, answer))
        return page
    initial = {"after": request.GET["after"]} if "after" in request.GET else None
    form = entry_form(bench, entry, about, initial=initial)
    if refuse_if_locked(request, record):
        return to_bench(bench, form.returns_to)
    return render_entry(request, access, form.missing())


def saved_of(record: BenchRecord, answer: Answer) -> dict[str, Any]:
    """What a device keeps of an entry that was saved: its rows, and how many the record has."""
    return {"rows": rows_of(record), "tokens": answer.tokens}


def after_entry(
    request: HtmxRequest, access: CourseAccess, form: EntryForm, answer: Answer
) -> HttpResponse:
    """Back to the place on the bench; where nothing was stored the form with what was typed."""
    bench, notice = form.bench, ""
    if not answer.is_saved:
        form, notice = sent_again(form, answer)
    if isinstance(form, MarkForm):
        return after_mark(request, access, form, notice)
    if request.htmx and form.of is Of.TARGET and form.correcting is None:
        return render_target(request, access, bench, form, is_saved=answer.is_saved)
    if answer.is_saved:
        return to_bench(bench, form.returns_to)
    return render_entry(request, access, form)


def sent_again(form: EntryForm, answer: Answer) -> tuple[EntryForm, str]:
    """The form as it was sent, which now knows what stands in the record; and what to say."""
    if answer.outcome == "unreadable" and form.errors:
        return form, "That tap could not be read. Nothing was changed; try again."
    words = answer.words
    if answer.outcome == "changed":
        data = QueryDict(mutable=True)
        data.update(form.data)
        data["seen"] = " ".join([*map(str, form.cleaned_data["seen"]), *answer.tokens])
        form = entry_form(form.bench, form.entry, form.about, data)
        words = f"Meanwhile in the record: {words}. Send it again to put yours in its place."
    form.add_error(None, words)
    return form, words


def after_mark(
    request: HtmxRequest, access: CourseAccess, form: EntryForm, notice: str
) -> HttpResponse:
    """The list again: the fragment, or a redirect to the step."""
    bench = form.bench
    context = bench_context(access, bench.work, bench.record) | {"notice": notice}
    stays = notice or form.cleaned_data.get("mark") == "open"
    at = form.about if stays else place_after(form.about, context["lines"])
    if request.htmx:
        return render(request, "workups/bench/_steps.html", context | {"at": at})
    if notice:
        messages.error(request, notice)
    return to_bench(bench, at if at == REST else f"step-{at}")


def render_target(
    request: HtmxRequest, access: CourseAccess, bench: Bench, sent: EntryForm, *, is_saved: bool
) -> HttpResponse:
    """One product's readings and forms; what was sent and not stored keeps what was typed."""
    fresh = Bench(bench.person, bench.work, bench.record)
    table = target_table(all_readings(bench.record), sent.about, bench.exercise)
    context = {
        "access": access,
        "work": bench.work,
        "target": table,
        "forms": target_forms(fresh, sent.about, None if is_saved else sent),
        "is_open": not refuse_if_locked(request, bench.record),
    }
    return render(request, "workups/bench/_target.html", context)


def render_entry(request: HtmxRequest, access: CourseAccess, form: EntryForm) -> HttpResponse:
    bench, old = form.bench, form.correcting
    forms_shown = [form]
    if form.entry == CORRECT:
        forms_shown.append(entry_form(bench, "strike", form.about))
    elif old is not None:  # struck out without a reason: the correction stands beside it
        forms_shown.insert(0, entry_form(bench, CORRECT, form.about))
    context: dict[str, Any] = {
        "access": access,
        "work": bench.work,
        "row_count": rows_of(bench.record),
        "back": bench_address(bench.work, form.returns_to),
        "form": form,
        "forms": forms_shown,
        "rows": [] if old else reading_rows(readings_beside(form)),
        "reading": old,
        "is_open": True,
    }
    return render(request, "workups/bench/record_entry.html", context)


def readings_beside(form: EntryForm) -> Iterable[Reading]:
    """What is recorded of the same thing: of a product all, else what the kind makes."""
    readings = all_readings(form.bench.record)
    if form.of is Of.TARGET:
        return [r for r in readings if r.subject == form.about]
    if isinstance(form, AddForm):
        return []
    return [r for r in readings if r.step_id == form.about and (form.about or r.kind in form.reads)]


class AddedStepForm(forms.Form):
    """Which verb is added at the bench, and after which step."""

    verb = forms.ChoiceField(choices=[(verb, kind.title) for verb, kind in STEP_KINDS.items()])
    after = forms.CharField(max_length=60, required=False)


@require_safe
def add_bench_step(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """A step that was not planned: the verb is chosen first."""
    access, work, record = get_record_for(current_person(request), work_id)
    bench = Bench(access.person, work, record)
    if refuse_if_locked(request, record):
        return to_bench(bench)
    asked = AddedStepForm(request.GET)
    if asked.is_valid():
        url = reverse("record-entry", args=[work_id, AddForm.entry, asked.cleaned_data["verb"]])
        return redirect(f"{url}?{request.GET.urlencode()}")
    context = {
        "access": access,
        "work": work,
        "verb_groups": verb_menu(),
        "steps": [(step["id"], STEP_KINDS[step["verb"]].title) for step in bench.done],
        "after": bench.last_done,
    }
    return render(request, "workups/bench/add_bench_step.html", context)


class QueueForm(forms.Form):
    """What a sender says about an entry, beside the fields of the entry's own form."""

    prefix = "queue"

    entry = forms.CharField(max_length=20)
    about = forms.CharField(max_length=80, required=False)


@require_safe
def check_connection(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """The server's clock, and a token that lets the queue send."""
    person = current_person(request)
    get_record_for(person, work_id)
    return JsonResponse(
        {
            "now_ms": round(timezone.now().timestamp() * 1000),
            "csrf_token": get_token(request),
            "person": str(person.public_id),
        }
    )


@require_POST
def replay_entry(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Record one entry that waited on a device. The answer is an outcome in words."""
    access, work, record = get_record_for(current_person(request), work_id, to_change=True)
    bench, asked = Bench(access.person, work, record), QueueForm(request.POST)
    if not asked.is_valid() or not is_known(asked.cleaned_data["entry"]):
        answer = Answer("unreadable", "The server does not know this kind of entry.")
    else:
        said = asked.cleaned_data
        # An entry may have waited since before its form said what it is about.
        about = said["about"] or request.POST.get("target", "")
        (answer,) = enter(bench, [entry_form(bench, said["entry"], about, request.POST)])
    return JsonResponse(
        {
            "outcome": answer.outcome,
            "words": answer.words,
            "was_there": answer.was_there,
            **saved_of(record, answer),
        }
    )
