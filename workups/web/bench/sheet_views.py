"""The printed sheet typed in later: twice, the second time blind, and differences decided."""

from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.forms import BoundField
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workups.models import BenchRecord, EntrySource, Work
from workups.selectors.double_entry import TypingState, differing, typing_state
from workups.services.bench import RecordIsLocked
from workups.services.entries import keep_typing
from workups.web.access import CourseAccess, current_person, get_record_for, refuse_if_locked
from workups.web.bench.record import PaperBench
from workups.web.bench.sheet_forms import SheetForm
from workups.web.requests import FORM_METHODS, HtmxRequest


@dataclass(frozen=True)
class Difference:
    """A field typed in two ways, in words."""

    field: BoundField
    label: str
    first: str
    second: str


@require_http_methods(FORM_METHODS)
def type_sheet(request: HtmxRequest, work_id: UUID) -> HttpResponse:
    changing = request.method == "POST"
    access, work, record = get_record_for(current_person(request), work_id, to_change=changing)
    if refuse_if_locked(request, record):
        return redirect("show-bench", work_id)
    state = typing_state(record)
    turn = state.next_turn
    if changing and "again" in request.POST:
        return render_sheet(request, access, work, 1, make_form(access, work, record))
    if not changing or turn == 0:
        return render_turn(request, access, work, record, state)
    form = make_form(access, work, record, merged_data(request.POST, state))
    if not form.is_valid():
        return render_turn(request, access, work, record, state, form)
    try:
        keep(access, record, state, turn_sent(request.POST, turn), form)
    except RecordIsLocked:
        refuse_if_locked(request, record)
        return redirect("show-bench", work_id)
    return after_typing(request, work, record)


def turn_sent(data: QueryDict, turn: int) -> int:
    """The turn that the form was made for; a first one begins anew."""
    return 1 if data.get("turn") == "1" else turn


def make_form(access: CourseAccess, work: Work, record: BenchRecord, data: Any = None) -> SheetForm:
    bench = PaperBench(access.person, work, record, EntrySource.SHEET)
    return SheetForm(data, bench=bench)


def merged_data(sent: QueryDict, state: TypingState) -> QueryDict:
    """In the third turn what is decided, over the fields in which both typings agree."""
    if state.next_turn != 3 or state.second is None or sent.get("turn") == "1":
        return sent
    merged = QueryDict(mutable=True)
    for name, typed in state.second.data.items():
        merged.setlist(name, typed if isinstance(typed, list) else [typed or ""])
    for name in sent:
        merged.setlist(name, sent.getlist(name))
    for name in sent.getlist("decided"):
        if name not in sent:
            merged.setlist(name, [])
    return merged


def keep(
    access: CourseAccess, record: BenchRecord, state: TypingState, turn: int, form: SheetForm
) -> None:
    agrees = (
        turn == 2
        and state.first is not None
        and not differing(form.names, state.first.data, form.typed())
    )
    keep_typing(
        actor=access.person,
        record=record,
        token=form.cleaned_data["client_token"],
        turn=turn,
        sheet=form.sheet(),
        store=agrees or turn == 3,
    )


def after_typing(request: HtmxRequest, work: Work, record: BenchRecord) -> HttpResponse:
    if typing_state(record).stored is None:
        return redirect("type-sheet", work.public_id)
    messages.success(request, "The sheet is typed in: both times agree, or you decided.")
    return redirect("show-bench", work.public_id)


def render_turn(
    request: HtmxRequest,
    access: CourseAccess,
    work: Work,
    record: BenchRecord,
    state: TypingState,
    form: SheetForm | None = None,
) -> HttpResponse:
    if state.next_turn != 3:
        shown = form or make_form(access, work, record)
        return render_sheet(request, access, work, state.next_turn, shown)
    # Nothing is put forward: neither typing is the likelier one.
    empty = form or make_form(access, work, record)
    context = {
        "access": access,
        "work": work,
        "form": empty,
        "differences": differences(empty, state),
    }
    return render(request, "workups/bench/decide_sheet.html", context)


def differing_names(form: SheetForm, state: TypingState) -> list[str]:
    if state.first is None or state.second is None:
        return []
    return differing(form.names, state.first.data, state.second.data)


def differences(form: SheetForm, state: TypingState) -> list[Difference]:
    if state.first is None or state.second is None:
        return []
    one, two = state.first.data, state.second.data
    return [
        Difference(form[name], form.named(name), words_of(one.get(name)), words_of(two.get(name)))
        for name in differing_names(form, state)
    ]


def words_of(typed: Any) -> str:
    shown = ", ".join(typed) if isinstance(typed, list) else str(typed or "")
    return shown or "nothing"


def render_sheet(
    request: HtmxRequest, access: CourseAccess, work: Work, turn: int, form: SheetForm
) -> HttpResponse:
    context = {"access": access, "work": work, "turn": turn, "form": form}
    return render(request, "workups/bench/type_sheet.html", context)
