"""What holds after every round, whoever came first."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from django.db import models

from tests.races.world import World, review_of
from workups.documents import readings_from_data
from workups.models import (
    AssessmentSnapshot,
    Assignment,
    BenchTick,
    DraftState,
    ExerciseDraft,
    ExerciseRevision,
    Extension,
    HandIn,
    Review,
    Work,
)
from workups.selectors.marks import newest_snapshot
from workups.selectors.plans import submitted_plan
from workups.selectors.works import record_is_locked
from workups.services.assessments import recorded

DONE = (Review.State.REVIEWED, Review.State.RELEASED)


def broken(w: World) -> Iterator[str]:
    """Sentences on what does not hold."""
    for work in Work.objects.select_related("assignment", "enrolment", "bench_record", "revision"):
        for what in (*_of_work(work), *_of_record(work), *_of_mark(work)):
            yield f"{work.student.sign_in}: {what}"
    yield from _twice()


def _of_work(work: Work) -> Iterator[str]:
    if work.assignment.revision_id != work.revision_id:
        yield "the work is of another revision than its assignment"
    if work.variant is not None and work.variant.revision_id != work.revision_id:
        yield "the variant is of another revision"
    if (work.variant is None) != (work.own_exercise is None):
        yield "variant and own exercise do not go together"
    apart = Extension.objects.filter(
        enrolment=work.enrolment, assignment__revision__key=work.revision.key
    ).exclude(assignment=work.assignment)
    if apart.exists():
        yield "an extension hangs on an assignment that the student is not on any more"
    has_it = Assignment.objects.filter(
        section=work.enrolment.section, revision__key=work.revision.key
    ).exists()
    if work.assignment.section_id != work.enrolment.section_id and has_it and (
        not work.bench_record_id
    ):
        yield "it is not at the bench, and another section's than its student"
    snapshot, plan = newest_snapshot(work), submitted_plan(work)
    if work.hand_in == HandIn.NOTHING and plan is not None:
        yield "a plan is handed in, and nothing is said to be"
    if work.is_being_assessed:
        yield "nobody assesses what was handed in"
    if work.is_assessed:
        if snapshot is None or plan is None:
            yield "assessed without an assessment or a plan"
        else:
            yield from _stale(work, snapshot, "the newest assessment")


def _stale(work: Work, snapshot: AssessmentSnapshot, which: str) -> Iterator[str]:
    """What an assessment rests on that is not what the work is now."""
    if snapshot.revision_id != work.revision_id:
        yield f"{which} is of another revision"
    if snapshot.own_exercise_id != work.own_exercise_id:
        yield f"{which} is of another form of the exercise"
    if snapshot.plan_revision != submitted_plan(work):
        yield f"{which} is of another plan"
    if snapshot.bench_record_id not in (work.bench_record_id, None):
        yield f"{which} is of another record"
    record = work.bench_record
    if record is None or record.locked_at is None or not record_is_locked(record):
        return
    now = recorded(record, work)
    then = readings_from_data(snapshot.readings) if snapshot.readings else None
    if then is not None and work.report_submitted_at is None:
        # The explanation is kept for later, and not yet said to anybody.
        said = {name: read.explanation for name, read in then.targets.items()}
        targets = {n: replace(read, explanation=said.get(n, "")) for n, read in now.targets.items()}
        now = replace(now, targets=targets)
    if then != now:
        yield f"{which} is of other readings"


def _of_record(work: Work) -> Iterator[str]:
    record = work.bench_record
    if record is None:
        return
    owners = list(record.works.all())
    if len({(owner.revision_id, owner.own_exercise_id) for owner in owners}) > 1:
        yield "owners of one record have different exercises"
    if record.plan_revision not in [submitted_plan(owner) for owner in owners]:
        yield "the record follows a plan that is none of its owners'"
    if len(owners) > work.assignment.group_size:
        yield "the record has more owners than the assignment allows"
    if record.locked_at is not None and review_of(work) is None:
        yield "the record is locked, and the report is in no queue"
    if record.locked_at is not None and record_is_locked(record):
        late = [
            *record.readings.filter(server_at__gt=record.locked_at),
            *record.steps.filter(server_at__gt=record.locked_at),
        ]
        if late:
            yield "an entry was taken after the lock"


def _of_mark(work: Work) -> Iterator[str]:
    review = review_of(work)
    if review is None or review.state not in DONE:
        return
    assert review.snapshot is not None
    yield from _stale(work, review.snapshot, f"the {review.state} mark's assessment")
    if review.state == Review.State.RELEASED and not work.is_assessed:
        yield "a mark is released that rests on less than came in"
    record = work.bench_record
    if review.state == Review.State.RELEASED and record and not record_is_locked(record):
        yield "the result is released, and its readings are open"


def _twice() -> Iterator[str]:
    """Rows that only a double click makes."""
    for model, names in (
        (ExerciseDraft, ("course", "base", "closed_at")),
        (ExerciseRevision, ("course", "key", "document")),
        (BenchTick, ("record", "kind", "step_id", "remark")),
    ):
        found = model._base_manager.values(*names).annotate(n=models.Count("pk")).filter(n__gt=1)
        for row in found:
            yield f"two of {model.__name__}: {row['n']}"


def missing(value: Any) -> Iterator[str]:
    """What was acknowledged and is nowhere. An assignment that nobody has begun may be replaced."""
    for row in value if isinstance(value, list | tuple) else [value]:
        if isinstance(row, models.Model) and not isinstance(row, Assignment) and (
            not type(row)._base_manager.filter(pk=row.pk).exists()
        ):
            yield f"{row!r} was acknowledged and is gone"
        if isinstance(row, str):
            texts = (ExerciseDraft, DraftState, ExerciseRevision)
            if not any(t._base_manager.filter(document=row).exists() for t in texts):
                yield "a text was saved and is nowhere"
