"""What keeps the bench usable without a network: the worker's script and a page of every form."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.views.decorators.http import require_safe

from workups.selectors.bench_lines import BenchLine
from workups.web.access import current_person, get_record_for
from workups.web.bench.entries import CORRECT, entry_form, kinds_at, kinds_of
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.record import Bench
from workups.web.bench.step_kinds import AddForm, ChangeForm
from workups.web.bench.views import bench_context
from workups.web.plan_editor import verb_menu
from workups.web.requests import HtmxRequest

WORKER = "js/service_worker.js"
KEPT = (
    "css/labcourse.css",
    "img/labcourse.svg",
    "django_htmx/htmx-2.min.js",
    "js/labcourse.js",
    "js/bench_store.js",
    "js/bench_sender.js",
    "js/bench_words.js",
    "js/bench_steps.js",
    "js/bench_questions.js",
    "js/bench_page.js",
)


@login_not_required
@require_safe
def service_worker(_request: HtmxRequest) -> HttpResponse:
    """The worker, from the root so that it may answer for every page; renewed with its files."""
    kept = {"version": version_of_files(), "files": [static(name) for name in KEPT]}
    script = f"self.KEPT = {json.dumps(kept)};\n{source_of(WORKER)}"
    response = HttpResponse(script, content_type="text/javascript; charset=utf-8")
    response.headers["Service-Worker-Allowed"] = "/"
    response.headers["Cache-Control"] = "no-cache"
    return response


def version_of_files() -> str:
    """A short hash over the worker and what it keeps."""
    digest = sha256("".join(static(name) for name in KEPT).encode())
    for name in (WORKER, *KEPT):
        digest.update(source_of(name).encode())
    return digest.hexdigest()[:16]


def source_of(name: str) -> str:
    """A static file's text, where it lies or where production collected it."""
    found = finders.find(name)
    if found is None and settings.STATIC_ROOT:
        found = str(Path(settings.STATIC_ROOT) / name)
    if found is None:
        raise FileNotFoundError(name)
    return Path(found).read_text(encoding="utf-8")


@require_safe
def show_offline_bench(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    """Every form of the bench on one page, kept by the device for when there is no network."""
    access, work, record = get_record_for(current_person(request), work_id)
    context = bench_context(access, work, record)
    context["parts"] = offline_forms(Bench(access.person, work, record), context["lines"])
    return render(request, "workups/bench/show_offline_bench.html", context)


# All the forms of a bench record at once, for the page that a device keeps.


@dataclass(frozen=True)
class OfflineForms:
    """What the page shows: forms of each step, of steps added, of the record, of each reading."""

    steps: list[tuple[BenchLine, list[EntryForm]]]
    added: list[EntryForm]
    record: list[EntryForm]
    corrections: list[tuple[EntryForm, EntryForm]]


def offline_forms(bench: Bench, lines: Sequence[BenchLine]) -> OfflineForms:
    return OfflineForms(
        steps=[(line, _step_forms(bench, line)) for line in lines],
        added=[
            entry_form(bench, AddForm.entry, verb)
            for group in verb_menu()
            for verb, _ in group.verbs
        ],
        record=[kind(bench=bench).missing() for kind in kinds_of(Of.RECORD)],
        corrections=[
            (entry_form(bench, CORRECT, str(old.pk)), entry_form(bench, "strike", str(old.pk)))
            for old in bench.readings
        ],
    )


def _step_forms(bench: Bench, line: BenchLine) -> list[EntryForm]:
    if line.mark == "skipped":
        return []
    kinds: list[type[EntryForm]] = [ChangeForm, *kinds_at(line.step)]
    forms = [kind(bench=bench, about=line.id).missing() for kind in kinds]
    return [form for form in forms if form.visible_fields()]
