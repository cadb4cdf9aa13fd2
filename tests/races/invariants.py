"""What holds after every round, whoever came first."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from django.db import models

from tests.races.world import World
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
    PlanRevision,
    Review,
    Work,
)
from workups.selectors.works import record_is_locked
from workups.services.assessments import recorded

DONE = (Review.State.REVIEWED, Review.State.RELEASED)


@dataclass(frozen=True)
class Rows:
    """What the sentences are about, fetched once a round."""

    plans: dict[int, PlanRevision]  # last handed in, by work
    snapshots: dict[int, AssessmentSnapshot]  # the newest, by work
    reviews: dict[int, Review]
    extensions: list[Extension]
    given: set[tuple[int, str]]  # section and key of an exercise


def fetch() -> Rows:
    handed_in = PlanRevision.objects.filter(submitted_at__isnull=False).order_by("version")
    snapshots = AssessmentSnapshot.objects.defer("assessment").select_related("plan_revision")
    reviews = Review.objects.select_related("snapshot__plan_revision")
    return Rows(
        plans={plan.work_id: plan for plan in handed_in},
        snapshots={snapshot.work_id: snapshot for snapshot in reversed(snapshots)},
        reviews={review.work_id: review for review in reviews.defer("snapshot__assessment")},
        extensions=list(Extension.objects.select_related("assignment__revision")),
        given=set(Assignment.objects.values_list("section", "revision__key")),
    )


def broken(w: World) -> Iterator[str]:
    """Sentences on what does not hold."""
    rows = fetch()
    for work in Work.objects.select_related(
        "assignment", "enrolment__person", "bench_record__plan_revision", "revision", "variant"
    ):
        for what in (*_of_work(work, rows), *_of_record(work, rows), *_of_mark(work, rows)):
            yield f"{work.student.sign_in}: {what}"
    yield from _twice()


def _of_work(work: Work, rows: Rows) -> Iterator[str]:
    if work.assignment.revision_id != work.revision_id:
        yield "the work is of another revision than its assignment"
    if work.variant is not None and work.variant.revision_id != work.revision_id:
        yield "the variant is of another revision"
    if (work.variant is None) != (work.own_exercise_id is None):
        yield "variant and own exercise do not go together"
    key = work.revision.key
    for extension in rows.extensions:
        if extension.enrolment_id == work.enrolment_id and (
            extension.assignment.revision.key == key
            and extension.assignment_id != work.assignment_id
        ):
            yield "an extension hangs on an assignment that the student is not on any more"
    elsewhere = work.assignment.section_id != work.enrolment.section_id
    if elsewhere and not work.bench_record_id and (
        (work.enrolment.section_id, key) in rows.given
    ):
        yield "it is not at the bench, and another section's than its student"
    snapshot, plan = rows.snapshots.get(work.pk), rows.plans.get(work.pk)
    if work.hand_in == HandIn.NOTHING and plan is not None:
        yield "a plan is handed in, and nothing is said to be"
    if work.is_being_assessed:
        yield "nobody assesses what was handed in"
    if work.is_assessed:
        if snapshot is None or plan is None:
            yield "assessed without an assessment or a plan"
        else:
            yield from _stale(work, snapshot, plan, "the newest assessment")


def _stale(
    work: Work, snapshot: AssessmentSnapshot, plan: PlanRevision | None, which: str
) -> Iterator[str]:
    """What an assessment rests on that is not what the work is now."""
    if snapshot.revision_id != work.revision_id:
        yield f"{which} is of another revision"
    if snapshot.own_exercise_id != work.own_exercise_id:
        yield f"{which} is of another form of the exercise"
    if snapshot.plan_revision != plan:
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


def _of_record(work: Work, rows: Rows) -> Iterator[str]:
    record = work.bench_record
    if record is None:
        return
    owners = list(record.works.all())
    if len({(owner.revision_id, owner.own_exercise_id) for owner in owners}) > 1:
        yield "owners of one record have different exercises"
    if record.plan_revision not in [rows.plans.get(owner.pk) for owner in owners]:
        yield "the record follows a plan that is none of its owners'"
    if len(owners) > work.assignment.group_size:
        yield "the record has more owners than the assignment allows"
    if record.locked_at is not None and work.pk not in rows.reviews:
        yield "the record is locked, and the report is in no queue"
    if record.locked_at is not None and record_is_locked(record):
        late = [
            *record.readings.filter(server_at__gt=record.locked_at),
            *record.steps.filter(server_at__gt=record.locked_at),
        ]
        if late:
            yield "an entry was taken after the lock"


def _of_mark(work: Work, rows: Rows) -> Iterator[str]:
    review = rows.reviews.get(work.pk)
    if review is None or review.state not in DONE:
        return
    assert review.snapshot is not None
    plan = rows.plans.get(work.pk)
    yield from _stale(work, review.snapshot, plan, f"the {review.state} mark's assessment")
    if review.state == Review.State.RELEASED and not work.is_assessed:
        yield "a mark is released that rests on less than came in"
    record = work.bench_record
    if review.state == Review.State.RELEASED and record and not record_is_locked(record):
        yield "the result is released, and its readings are open"


def _twice() -> Iterator[str]:
    """What only a double click makes."""
    for plan in PlanRevision.objects.filter(change="Added a label"):
        ids = [step["id"] for step in plan.data["steps"]]
        if len(ids) != len(set(ids)):
            yield "a step was added twice"
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
