"""Entries of the bench without their pages."""

from workups.services.entries import NewEntry, record_entries
from workups.web.bench.record import PaperBench


def enter(record, origin, *said, seen=None):
    """The row that the entry made, the first of several."""
    (made,) = record_entries(record=record, entries=[NewEntry(origin, said)], seen=seen)
    return made.rows[0] if made.rows else None


def paper_bench(exercise, steps, lines=()):
    """What a sheet is typed in for, without a database behind it."""
    bench = PaperBench(None, None, None)
    vars(bench).update(exercise=exercise, planned=list(steps), lines=list(lines))
    return bench
