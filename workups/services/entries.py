"""The one way into a bench record: what was said there, by whichever door, once and for good.

A page sends one entry, a device with a queue one after the other, the printed sheet all of its own
together. What is sent together is stored together or not at all. An entry with a token that is
there already is answered with what it made then, after the lock too.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID, uuid5

from django.db import transaction

from workups.models import (
    BenchRecord,
    BenchStep,
    EntrySource,
    Person,
    Reading,
    ReadingKind,
    SheetTyping,
    Work,
)
from workups.selectors.bench import standing_readings, step_entries
from workups.services.audit import record_audit
from workups.services.bench import require_unlocked, start_bench
from workups.services.holding import hold
from workups.services.refusals import Refused

_Row = TypeVar("_Row", BenchStep, Reading)

# Of these only one holds for a step, flask or reagent; weighings and signs stand side by side.
SINGLE_KINDS = frozenset(
    {
        ReadingKind.AGENT_MASS,
        ReadingKind.AGENT_PORTIONS,
        ReadingKind.AGENT_LOOK,
        ReadingKind.LIQUID_LOOK,
        ReadingKind.DRYING_TIME,
        ReadingKind.VOLUME,
        ReadingKind.REAGENT,
    }
)
TWICE = "Recorded twice: this one holds."


class TokenBelongsElsewhere(Refused):
    """This form was sent for another bench record before."""


class ChangedMeanwhile(Refused):
    """The record says something that the sender had not seen; `rows` are what it says."""

    def __init__(self, rows: "Sequence[BenchStep | Reading]") -> None:
        super().__init__()
        self.rows = rows


@dataclass(frozen=True)
class EntryOrigin:
    """Who sent an entry, from where, and the token that makes sending twice harmless.

    `device_offset_s` is what the device adds to its own clock to get ours.
    """

    by: Person
    client_token: UUID
    device_at: datetime | None = None
    device_offset_s: int | None = None
    source: EntrySource = EntrySource.BENCH


@dataclass(frozen=True)
class StepMark:
    """How one step went. `data` is the step with the amounts really used."""

    step_id: str
    mark: str
    data: Mapping[str, Any]
    after: str = ""
    remark: str = ""


@dataclass(frozen=True)
class StepTakenBack:
    """What was said of a step is taken back: it is open again."""

    step_id: str


@dataclass(frozen=True)
class ReadingValues:
    """What a reading says; the fields are those of the Reading model."""

    kind: ReadingKind
    subject: str = ""
    step_id: str = ""
    flask: str = ""
    value: Decimal | None = None
    value_high: Decimal | None = None
    decimals: int = 0
    unit: str = ""
    text: str = ""
    witness_kind: str = ""
    agrees: bool | None = None
    flask_number: str = ""
    balance: str = ""
    readability: Decimal | None = None
    on_pan: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Correction:
    """Another reading in place of one, or a line through it where `values` is None."""

    reading: Reading
    values: ReadingValues | None
    reason: str


Said = StepMark | StepTakenBack | ReadingValues | Correction


@dataclass(frozen=True)
class NewEntry:
    """What one form says, under one token. Several readings are several rows."""

    origin: EntryOrigin
    said: Sequence[Said]


@dataclass(frozen=True)
class Recorded:
    """The rows of an entry; `was_there` where they were made by an earlier sending."""

    rows: "list[BenchStep | Reading]"
    was_there: bool


@transaction.atomic
def record_entries(
    *, record: BenchRecord, entries: Iterable[NewEntry], seen: Collection[UUID] | None = None
) -> list[Recorded]:
    """Add what was said to the record, all of it or nothing; an answer for each entry.

    `seen` are the tokens of the rows that the sender knew of. What stands in the record and is not
    among them was said meanwhile, by a partner or by the same person on another device: then
    nothing is written, and the sender is asked. None asks nothing.

    Raises RecordIsLocked, ChangedMeanwhile, TokenBelongsElsewhere.
    """
    hold(record)
    return [_record_entry(record, entry, seen) for entry in entries]


def _record_entry(record: BenchRecord, entry: NewEntry, seen: Collection[UUID] | None) -> Recorded:
    parts = [(_origin_of(entry, n), said) for n, said in enumerate(entry.said)]
    before = [_sent_before(record, origin, said) for origin, said in parts]
    if not all(before):
        require_unlocked(record)
    new = [part for part, sent in zip(parts, before, strict=True) if sent is None]
    standing = [_standing(record, said) for _, said in new]
    if seen is not None:
        _require_seen(standing, new, seen)
    made = iter(
        [_write(record, origin, said, old)
         for (origin, said), old in zip(new, standing, strict=True)]
    )  # fmt: skip
    rows = [sent or next(made) for sent in before]
    return Recorded([row for row in rows if row is not None], was_there=all(before))


def _origin_of(entry: NewEntry, number: int) -> EntryOrigin:
    """Readings of one form have tokens of their own, made from the form's."""
    if not isinstance(entry.said[number], ReadingValues):
        return entry.origin
    token = uuid5(entry.origin.client_token, str(number))
    return replace(entry.origin, client_token=token)


def _sent_before(
    record: BenchRecord, origin: EntryOrigin, said: Said
) -> "BenchStep | Reading | None":
    if isinstance(said, StepMark | StepTakenBack):
        return _with_token(BenchStep, record, origin)
    return _with_token(Reading, record, origin)


def _with_token(model: type[_Row], record: BenchRecord, origin: EntryOrigin) -> _Row | None:
    sent = model.objects.filter(client_token=origin.client_token).first()
    if sent is not None and sent.record_id != record.pk:
        raise TokenBelongsElsewhere
    return sent


def _standing(record: BenchRecord, said: Said) -> "BenchStep | Reading | None":
    """What stands in the record where this is to stand."""
    if isinstance(said, StepMark | StepTakenBack):
        return step_entries(record).get(said.step_id)
    if isinstance(said, Correction):
        return _latest(said.reading)
    if said.kind not in SINGLE_KINDS:
        return None
    return next((r for r in standing_readings(record) if _slot(r) == _slot(said)), None)


def _slot(entry: Reading | ReadingValues) -> tuple[str, str, str, str]:
    return str(entry.kind), entry.subject, entry.step_id, entry.flask


def _latest(reading: Reading) -> Reading:
    """What took the reading's place in the end."""
    while True:
        after = Reading.objects.filter(supersedes=reading).select_related("by").first()
        if after is None:
            return reading
        reading = after


def _require_seen(
    standing: "Sequence[BenchStep | Reading | None]",
    new: Sequence[tuple[EntryOrigin, Said]],
    seen: Collection[UUID],
) -> None:
    unseen = [
        row
        for row, (_, said) in zip(standing, new, strict=True)
        if row is not None
        and row.client_token not in seen
        and not (isinstance(said, Correction) and row == said.reading)
    ]
    if unseen:
        raise ChangedMeanwhile(unseen)


# What a row that takes another back repeats of it.
_PLACE: Mapping[type[BenchStep | Reading], tuple[str, ...]] = {
    BenchStep: ("step_id", "mark", "data", "after"),
    Reading: ("kind", "subject", "step_id", "flask"),
}


def _write(record: BenchRecord, origin: EntryOrigin, said: Said, old: Any) -> Any:
    """The row made; None where there was nothing to take back."""
    words = said.values if isinstance(said, Correction) else said
    reason = said.reason if isinstance(said, Correction) else ""
    if isinstance(words, StepMark):
        return _add(BenchStep, record, origin, vars(words), old)
    if isinstance(words, ReadingValues):
        twice = TWICE if old else ""
        return _add(Reading, record, origin, vars(words), old, reason=reason or twice)
    if old is None or old.withdrawn:
        return old
    kept = {name: getattr(old, name) for name in _PLACE[type(old)]}
    return _add(type(old), record, origin, kept, old, reason=reason, withdrawn=True)


def _add(
    model: type[_Row],
    record: BenchRecord,
    origin: EntryOrigin,
    values: Mapping[str, Any],
    old: _Row | None,
    **more: Any,
) -> _Row:
    row = model(record=record, supersedes=old, **vars(origin), **values, **more)
    row.full_clean()
    row.save()
    return row


# Data that an instructor or TA supplies after an accident, marked as such for ever.


def supply_readings(
    *, actor: Person, work: Work, token: UUID, entries: Sequence[ReadingValues], reason: str
) -> Recorded:
    """Add readings to the student's record, begun for them where it was not.

    The newest tare and gross count, so that the supplied ones hold over spilled ones, which stay
    readable. Raises what `start_bench` and `record_entries` raise.
    """
    record = work.bench_record or start_bench(actor=actor, work=work)
    return _supply(actor, work, record, token, entries, reason)


@transaction.atomic
def _supply(
    actor: Person,
    work: Work,
    record: BenchRecord,
    token: UUID,
    entries: Sequence[ReadingValues],
    reason: str,
) -> Recorded:
    origin = EntryOrigin(by=actor, client_token=token, source=EntrySource.SUPPLIED)
    (made,) = record_entries(record=record, entries=[NewEntry(origin, entries)])
    if not made.was_there:
        record_audit(
            actor=actor,
            action="supply-readings",
            subject=record,
            course=work.revision.course,
            details={"reason": reason, "readings": [str(reading) for reading in made.rows]},
        )
    return made


# Double entry of the printed sheet: stored only when both agree or somebody has decided.


@dataclass(frozen=True)
class TypedSheet:
    """One typing: the fields as typed, and the entries that they make."""

    data: Mapping[str, Any]
    entries: Sequence[NewEntry]


@transaction.atomic
def keep_typing(
    *,
    actor: Person,
    record: BenchRecord,
    token: UUID,
    turn: int,
    sheet: TypedSheet,
    store: bool = False,
) -> SheetTyping:
    """Keep what was typed; with `store` make the record's entries from it, marked as late."""
    hold(record)
    sent = SheetTyping.objects.filter(client_token=token).first()
    if sent is not None and sent.record_id != record.pk:
        raise TokenBelongsElsewhere
    if sent is not None:
        return sent
    require_unlocked(record)
    typing = SheetTyping(
        record=record,
        client_token=token,
        turn=turn,
        data=dict(sheet.data),
        stored=store,
        by=actor,
    )
    typing.full_clean()
    typing.save()
    if store:
        record_entries(record=record, entries=sheet.entries)
    return typing
