"""What a device with a queue asks: am I through, and here is an entry that waited."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.formats import date_format
from django.views.decorators.http import require_POST, require_safe

from workups.models import BenchRecord, BenchStep, Reading
from workups.services.bench import RecordIsLocked, TokenBelongsElsewhere
from workups.services.replay import ChangedMeanwhile
from workups.web.access import current_person
from workups.web.bench.access import get_record_for
from workups.web.bench.replay import CannotBeRead, ReplayForm, Saved, Waiting, replay
from workups.web.requests import HtmxRequest


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
    """Record one entry that waited. What the program decides comes as an outcome in words.

    Outcomes: saved, unreadable, locked, changed (somebody else said something meanwhile).
    """
    access, work, record = get_record_for(current_person(request), work_id, to_change=True)
    form = ReplayForm(request.POST)
    if not form.is_valid():
        return answer("unreadable", "The server does not know this kind of entry.")
    asked = form.cleaned_data
    waiting = Waiting(
        person=access.person,
        work=work,
        record=record,
        data=request.POST,
        about=asked["about"],
        after=asked["after"],
        seen=asked["seen"],
    )
    try:
        return answer("saved", tokens=tokens_of(replay(waiting, asked["entry"])))
    except CannotBeRead as error:
        return answer("unreadable", " ".join(error.problems))
    except TokenBelongsElsewhere:
        return answer("unreadable", "It was sent for another record before.")
    except RecordIsLocked:
        return answer("locked", words_on_lock(record))
    except ChangedMeanwhile as error:
        words = "; ".join(words_on(entry) for entry in error.entries)
        return answer("changed", words, tokens=tokens_of(error.entries))


def answer(outcome: str, words: str = "", **more: Any) -> JsonResponse:
    return JsonResponse({"outcome": outcome, "words": words, **more})


def tokens_of(entries: Saved) -> list[str]:
    return [str(entry.client_token) for entry in entries]


def words_on_lock(record: BenchRecord) -> str:
    if record.locked_at is None:
        return "The time for readings was over before this was sent."
    who = record.locked_by or "the date"
    return f"The readings were locked by {who}, {at(record.locked_at)}, before this was sent."


def words_on(entry: BenchStep | Reading) -> str:
    """What an entry says, who said it and when."""
    if isinstance(entry, BenchStep):
        said = entry.mark
    elif entry.withdrawn:
        said = f"struck out ({entry.reason})"
    else:
        said = f"{entry.get_kind_display()} {entry.shown_value}"
        said += f" ({entry.reason})" if entry.reason else ""
    return f"{said}, {entry.by}, {at(entry.made_at)}"


def at(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "H:i")
