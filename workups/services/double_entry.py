"""Double entry of the printed sheet: stored only when both agree or somebody has decided."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db import transaction

from workups.models import BenchRecord, Person, SheetTyping
from workups.services.bench import require_unlocked
from workups.services.entries import NewEntry, TokenBelongsElsewhere, record_entries
from workups.services.holding import hold


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
