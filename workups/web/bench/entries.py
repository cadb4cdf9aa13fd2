"""The kinds of entry at the bench in one list, and the one way in for all doors."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.http import Http404
from django.utils import timezone
from django.utils.formats import date_format

from workups.chemistry.plan import Step
from workups.models import BenchRecord, BenchStep, Reading
from workups.services.bench import RecordIsLocked
from workups.services.entries import ChangedMeanwhile, TokenBelongsElsewhere, record_entries
from workups.web.bench.entry import EntryForm, Of
from workups.web.bench.product_kinds import PartForm, WeighingForm, WitnessForm
from workups.web.bench.reading_kinds import (
    DryingForm,
    ReagentsForm,
    StrikeForm,
    VolumeForm,
    reading_or_404,
)
from workups.web.bench.record import Bench
from workups.web.bench.step_kinds import AddForm, ChangeForm, MarkForm

KINDS: dict[str, type[EntryForm]] = {
    kind.entry: kind
    for kind in (
        MarkForm,
        ChangeForm,
        AddForm,
        DryingForm,
        VolumeForm,
        WeighingForm,
        PartForm,
        WitnessForm,
        ReagentsForm,
        StrikeForm,
    )
}
# A correction is the form of what it corrects.
CORRECT = "correct"


def entry_form(
    bench: Bench, entry: str, about: str = "", data: Any = None, **kwargs: Any
) -> EntryForm:
    """The form of an entry; Http404 where there is no such kind, or nothing that it is about."""
    if entry == CORRECT:
        old = reading_or_404(bench, about)
        kind = next(kind for kind in KINDS.values() if old.kind in kind.reads)
        return kind(data, bench=bench, about=about, correcting=old, **kwargs)
    if not is_known(entry):
        raise Http404
    return KINDS[entry](data, bench=bench, about=about, **kwargs)


def is_known(entry: str) -> bool:
    return entry == CORRECT or entry in KINDS


def kinds_of(of: Of) -> list[type[EntryForm]]:
    return [kind for kind in KINDS.values() if kind.of is of]


def kinds_at(step: Step) -> list[type[EntryForm]]:
    """The readings that are asked at a step."""
    return [kind for kind in KINDS.values() if kind.takes(step)]


@dataclass(frozen=True)
class Answer:
    """What became of an entry. Outcomes: saved, unreadable, locked, changed (somebody else said
    something meanwhile: `rows` are what). All but the first have `words`."""

    outcome: str
    words: str = ""
    rows: Sequence[BenchStep | Reading] = ()
    was_there: bool = False

    @property
    def is_saved(self) -> bool:
        return self.outcome == "saved"

    @property
    def tokens(self) -> list[str]:
        return [str(row.client_token) for row in self.rows]


def enter(bench: Bench, forms: Sequence[EntryForm]) -> list[Answer]:
    """Record what forms say, each by itself, whole or not at all."""
    return [_enter(bench, form) for form in forms]


def _enter(bench: Bench, form: EntryForm) -> Answer:
    if not form.is_valid():
        return Answer("unreadable", " ".join(_problems(form)))
    try:
        (made,) = record_entries(
            record=bench.record, entries=[form.new_entry()], seen=form.cleaned_data["seen"]
        )
    except TokenBelongsElsewhere:
        return Answer("unreadable", "It was sent for another bench record before.")
    except RecordIsLocked:
        return Answer("locked", words_on_lock(bench.record))
    except ChangedMeanwhile as error:
        return Answer("changed", "; ".join(map(words_on, error.rows)), error.rows)
    return Answer("saved", rows=made.rows, was_there=made.was_there)


def _problems(form: EntryForm) -> list[str]:
    labels: Mapping[str, Any] = {name: field.label or name for name, field in form.fields.items()}
    return [
        f"{labels[name]}: {message}" if name in labels else str(message)
        for name, messages in form.errors.items()
        for message in messages
    ]


def words_on_lock(record: BenchRecord) -> str:
    if record.locked_at is None:
        return "The time for readings was over before this was sent."
    who = record.locked_by or "the date"
    return f"The readings were locked by {who}, {at(record.locked_at)}, before this was sent."


def words_on(row: BenchStep | Reading) -> str:
    """What an entry says, who said it and when."""
    if isinstance(row, BenchStep):
        said = row.mark
    elif row.withdrawn:
        said = f"struck out ({row.reason})"
    else:
        said = f"{row.get_kind_display()} {row.shown_value}"
        said += f" ({row.reason})" if row.reason else ""
    return f"{said}, {row.by}, {at(row.made_at)}"


def at(moment: datetime) -> str:
    return date_format(timezone.localtime(moment), "H:i")


