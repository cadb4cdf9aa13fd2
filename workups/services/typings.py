"""The printed sheet, typed in twice: stored only when both agree or somebody has decided."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID, uuid5

from django.db import transaction

from workups.models import BenchRecord, EntrySource, Person, SheetTyping
from workups.selectors.bench import standing_readings
from workups.services.bench import (
    EntryOrigin,
    ReadingValues,
    StepMark,
    TokenBelongsElsewhere,
    hold_record,
    record_bench_step,
    require_unlocked,
)
from workups.services.replay import replay_readings


@dataclass(frozen=True)
class TypedSheet:
    """One typing: the fields as typed, and what they say."""

    data: Mapping[str, Any]
    marks: Sequence[StepMark]
    entries: Sequence[ReadingValues]


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
    hold_record(record)
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
        _store(actor, record, token, sheet)
    return typing


def _store(actor: Person, record: BenchRecord, token: UUID, sheet: TypedSheet) -> None:
    def origin(what: str) -> EntryOrigin:
        return EntryOrigin(
            by=actor, client_token=uuid5(token, what), source=EntrySource.SHEET
        )

    for mark in sheet.marks:
        record_bench_step(record=record, origin=origin(f"step {mark.step_id}"), mark=mark)
    seen = {reading.client_token for reading in standing_readings(record)}
    if sheet.entries:
        replay_readings(
            record=record, origin=origin("readings"), entries=sheet.entries, seen=seen
        )
