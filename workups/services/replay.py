"""Entries that waited on a device: sent in order, stored once, and never over what others said.

`seen` are the tokens of the entries that the sender knew of. What stands in the record and is
not among them was said meanwhile, by a partner or on another device: then nothing is written,
and the sender is asked.
"""

from collections.abc import Collection, Sequence
from typing import TypeVar
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from workups.models import BenchRecord, BenchStep, Reading, ReadingKind
from workups.selectors.bench import standing_readings, step_entries
from workups.services.bench import (
    EntryOrigin,
    ReadingValues,
    StepMark,
    correct_reading,
    numbered,
    record_bench_step,
    record_reading,
    require_unlocked,
    sent_before,
    withdraw_bench_step,
    withdraw_reading,
)

_Entry = TypeVar("_Entry", BenchStep, Reading)

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


class ChangedMeanwhile(Exception):
    """The record says something that the sender had not seen; `entries` are what it says."""

    def __init__(self, entries: Sequence[BenchStep | Reading]) -> None:
        super().__init__()
        self.entries = entries


@transaction.atomic
def replay_step(
    *, record: BenchRecord, origin: EntryOrigin, mark: StepMark, seen: Collection[UUID]
) -> BenchStep:
    sent = sent_before(BenchStep, record, origin)
    if sent is not None:
        return sent
    require_unlocked(record)
    _require_seen([step_entries(record).get(mark.step_id)], seen, origin)
    return record_bench_step(record=record, origin=origin, mark=mark)


@transaction.atomic
def replay_step_withdrawal(
    *, record: BenchRecord, origin: EntryOrigin, step_id: str, seen: Collection[UUID]
) -> BenchStep | None:
    """Take a step's mark back; None where nothing stands that could be."""
    sent = sent_before(BenchStep, record, origin)
    if sent is not None:
        return sent
    require_unlocked(record)
    _require_seen([step_entries(record).get(step_id)], seen, origin)
    return withdraw_bench_step(record=record, origin=origin, step_id=step_id)


@transaction.atomic
def replay_readings(
    *,
    record: BenchRecord,
    origin: EntryOrigin,
    entries: Sequence[ReadingValues],
    seen: Collection[UUID],
) -> list[Reading]:
    """What one form said, all or none; a reading that was seen is superseded."""
    origins = [numbered(origin, number) for number in range(len(entries))]
    before = [sent_before(Reading, record, one) for one in origins]
    if all(before):
        return [sent for sent in before if sent is not None]
    require_unlocked(record)
    standing = {_slot(r): r for r in standing_readings(record) if r.kind in SINGLE_KINDS}
    olds = [standing.get(_slot(values)) for values in entries]
    unsent = [old for old, sent in zip(olds, before, strict=True) if sent is None]
    _require_seen(unsent, seen, origin)
    return [
        sent or _in_place_of(old, record, one, values)
        for sent, old, one, values in zip(before, olds, origins, entries, strict=True)
    ]


@transaction.atomic
def replay_correction(
    *,
    reading: Reading,
    origin: EntryOrigin,
    values: ReadingValues | None,
    reason: str,
    seen: Collection[UUID],
) -> Reading:
    """Correct a reading, or strike it out where `values` is None."""
    sent = sent_before(Reading, reading.record, origin)
    if sent is not None:
        return sent
    require_unlocked(reading.record)
    latest = _latest(reading)
    _require_seen([latest if latest != reading else None], seen, origin)
    if values is not None:
        return correct_reading(reading=latest, origin=origin, values=values, reason=reason)
    if latest.withdrawn:
        return latest
    return withdraw_reading(reading=latest, origin=origin, reason=reason)


def _in_place_of(
    old: Reading | None, record: BenchRecord, origin: EntryOrigin, values: ReadingValues
) -> Reading:
    if old is None:
        return record_reading(record=record, origin=origin, values=values)
    return correct_reading(reading=old, origin=origin, values=values, reason=TWICE)


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
    standing: Sequence[_Entry | None], seen: Collection[UUID], origin: EntryOrigin
) -> None:
    unseen = [
        entry
        for entry in standing
        if entry and entry.client_token not in seen and not _is_known(entry, origin)
    ]
    if unseen:
        raise ChangedMeanwhile(unseen)


def _is_known(entry: BenchStep | Reading, origin: EntryOrigin) -> bool:
    """Whether the sender said it, earlier: what one said oneself needs no question.

    A clock only decides here whether to ask, never what holds.
    """
    return entry.by_id == origin.by.pk and entry.made_at <= (origin.made_at or timezone.now())
