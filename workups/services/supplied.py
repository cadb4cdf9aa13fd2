"""Data that an instructor or TA supplies after an accident, marked as such for ever."""

from collections.abc import Sequence
from uuid import UUID

from django.db import transaction

from workups.models import BenchRecord, EntrySource, Person, Work
from workups.services.audit import record_audit
from workups.services.bench import start_bench
from workups.services.entries import (
    EntryOrigin,
    NewEntry,
    ReadingValues,
    Recorded,
    record_entries,
)


def supply_readings(
    *,
    actor: Person,
    work: Work,
    token: UUID,
    entries: Sequence[ReadingValues],
    reason: str,
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
