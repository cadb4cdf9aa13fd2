"""Every assessment goes through `compute_assessment`, so that equal work is judged alike."""

import hashlib
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import lru_cache
from uuid import UUID

from django.db import transaction

from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.documents import assessment_to_data, readings_from_data, readings_to_data
from workups.exercise.public import public_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, StepReport
from workups.grading.looking import look_at_done, look_at_steps
from workups.grading.partners import with_shared_bench
from workups.grading.trying import IDEAS, Trial, try_out
from workups.models import (
    AssessmentSnapshot,
    BenchRecord,
    ExerciseRevision,
    Person,
    PlanRevision,
    Work,
)
from workups.models.exercises import read_exercise
from workups.selectors.bench import readings_to_core
from workups.selectors.plans import submitted_plan
from workups.selectors.reagents import reagent_check_of
from workups.services.computing import CannotBeCarriedOut, computing
from workups.services.hand_ins import NothingToAssess, Turn, assessed, begin_assessing, gave_up

DRAWS = 500


def seed_for(revision: ExerciseRevision) -> int:
    """The seed of the draws: one per published revision, so that like plans get like bands."""
    digest = hashlib.sha256(revision.public_id.bytes).digest()
    return int.from_bytes(digest[:4], "big")


def compute_assessment(
    *,
    revision: ExerciseRevision,
    plan: Plan | None,
    readings: Readings | None = None,
    document: str = "",
) -> Assessment:
    """Assess a plan (None: the model plan) and readings; no rows are read or written.

    ``document`` is the exercise as a student has it; empty means the revision's own.

    Raises CannotBeCarriedOut for a plan, or steps as they were marked, that no flask can follow,
    and for anything else that the computation stumbles over.
    """
    seed, text = seed_for(revision), document or revision.document
    with computing(f"a plan for {revision.key}"):
        if readings is None:
            return _assess_plan(text, plan, seed, DRAWS)
        return assess(read_exercise(text), plan, readings, seed=seed, draws=DRAWS)


@lru_cache(maxsize=256)
def _assess_plan(document: str, plan: Plan | None, seed: int, draws: int) -> Assessment:
    """A plan without readings, remembered: partners' plans and marks are computed again."""
    return assess(read_exercise(document), plan, None, seed=seed, draws=draws)


@lru_cache(maxsize=256)
def _assess_publicly(document: str, plan: Plan, seed: int, draws: int) -> Assessment:
    """A plan with public numbers, remembered: it is self-checked, then its labels are printed."""
    public = public_exercise(read_exercise(document))
    return replace(assess(public, plan, None, seed=seed, draws=draws), public_numbers=True)


@lru_cache(maxsize=256)
def _look_publicly(document: str, plan: Plan, seed: int, draws: int) -> Assessment:
    return look_at_steps(read_exercise(document), plan, seed=seed, draws=draws)


def look_publicly(work: Work, plan: Plan) -> Assessment:
    """What the steps of a plan do, as far as it can be carried out, with public numbers and without
    a judgement; the numbers are those of its self-check. Raises CannotBeCarriedOut."""
    with computing(f"the steps of a plan of work {work.public_id} with public numbers"):
        return _look_publicly(work.exercise_text, plan, seed_for(work.revision), DRAWS)


def assess_plan_of(work: Work, plan: Plan, readings: Readings | None = None) -> Assessment:
    """A plan judged by the exercise as this student has it."""
    return compute_assessment(
        revision=work.revision, plan=plan, readings=readings, document=work.exercise_text
    )


def assess_publicly(work: Work, plan: Plan) -> Assessment:
    """A plan judged with public numbers: all that its student may see before the lock.

    Nothing in it follows from how far the reaction went, so whether the plan is held for safety
    is not decided here. Raises CannotBeCarriedOut.
    """
    with computing(f"a plan of work {work.public_id} with public numbers"):
        return _assess_publicly(work.exercise_text, plan, seed_for(work.revision), DRAWS)


def assess_work(*, actor: Person | None, work: Work, reason: str = "") -> AssessmentSnapshot:
    """Compute and store a new assessment of what the student handed in; older ones stay.

    Steps marked at the bench in a way that cannot be followed are left out of the assessment,
    which then says so in its reason. Raises NothingToAssess, and CannotBeCarriedOut once the work
    is in that state.
    """
    while True:
        turn = begin_assessing(work)
        try:
            computed = compute_for(work)
        except CannotBeCarriedOut as problem:
            if gave_up(turn, problem):
                raise
        else:
            snapshot = _store_snapshot(actor, turn, computed, reason)
            if snapshot is not None:
                return snapshot


def settle(*, actor: Person | None, work: Work, reason: str, again: bool = False) -> None:
    """Assess what waits to be assessed; afterwards the work's state says what came of it.

    `again`: also what could not be computed before.

    For whoever brought something new, and before a word that needs an assessment: one that was
    cut short, or is still going on elsewhere, is made here.
    """
    work.refresh_from_db(fields=["hand_in"])
    if work.is_being_assessed or (again and work.cannot_be_carried_out):
        with suppress(CannotBeCarriedOut):
            assess_work(actor=actor, work=work, reason=reason)


@dataclass(frozen=True)
class Computed:
    """An assessment of what a student handed in, with what it was computed from."""

    plan: PlanRevision
    readings: Readings | None
    assessment: Assessment
    remark: str


def compute_for(work: Work) -> Computed:
    """What a work's assessment would be now; no rows are written. Raises NothingToAssess."""
    plan = submitted_plan(work)
    if plan is None:
        raise NothingToAssess
    record = work.bench_record
    with computing(f"work {work.public_id}"):
        readings = None if record is None else recorded(record, work)
        assessment, remark = _assess_handed_in(work, plan, readings)
        return Computed(plan, readings, with_reagent_table(assessment, work), remark)


def _assess_handed_in(
    work: Work, plan: PlanRevision, readings: Readings | None
) -> tuple[Assessment, str]:
    if readings is None:
        return assess_plan_of(work, plan.to_core()), ""
    try:
        return _assess_bench(work, plan, readings), ""
    except CannotBeCarriedOut as problem:
        unmarked = replace(readings, steps=())
        remark = f"steps as marked at the bench left out: {problem}"
        return _assess_bench(work, plan, unmarked), remark


def _assess_bench(work: Work, plan: PlanRevision, readings: Readings) -> Assessment:
    """The own plan with the bench record, which may have followed a partner's plan."""
    record = work.bench_record
    own = plan.to_core()
    if record is None or record.plan_revision.data == plan.data:
        return assess_plan_of(work, own, readings)
    shared = record.plan_revision.to_core()
    return with_shared_bench(
        own_plan=assess_plan_of(work, own),
        bench_plan=assess_plan_of(work, shared),
        bench=assess_plan_of(work, shared, readings),
    )


def recorded(record: BenchRecord, work: Work) -> Readings:
    targets = [target.substance for target in work.to_core().setup.targets]
    return readings_to_core(record, targets, work.explanation)


def with_reagent_table(assessment: Assessment, work: Work) -> Assessment:
    """The assessment with the reagent table judged from the student's answers as one check more."""
    out_of = work.to_core().rubric.points.get("reagent_table", 0.0)
    judged = reagent_check_of(work, out_of)
    return replace(assessment, checks=(*assessment.checks, judged))


@transaction.atomic
def _store_snapshot(
    actor: Person | None, turn: Turn, computed: Computed, reason: str
) -> AssessmentSnapshot | None:
    """None, and nothing stored, where something new came in while it was computed."""
    if not assessed(turn):
        return None
    work, assessment, readings = turn.work, computed.assessment, computed.readings
    words = "; ".join(part for part in (reason, computed.remark) if part)
    snapshot = AssessmentSnapshot(
        work=work,
        assignment=work.assignment,
        revision=work.revision,
        own_exercise=work.own_exercise,
        plan_revision=computed.plan,
        bench_record=work.bench_record,
        readings=None if readings is None else readings_to_data(readings),
        engine=assessment.engine,
        seed=assessment.seed,
        draws=assessment.draws,
        assessment=assessment_to_data(assessment),
        made_by=actor,
        reason=words[:300],
    )
    snapshot.full_clean()
    snapshot.save()
    return snapshot


# What was done at the bench, carried out anew for pictures.


@dataclass(frozen=True)
class Kept:
    """An assessment as the key of what is made from it: once stored it never changes."""

    public_id: UUID
    snapshot: AssessmentSnapshot = field(compare=False)


@dataclass(frozen=True)
class AsDone:
    """The steps as carried out, and what they did."""

    plan: Plan
    reports: tuple[StepReport, ...]


def steps_as_done(snapshot: AssessmentSnapshot) -> AsDone | None:
    """What an assessment's record says was done; None where nothing was recorded, or the steps as
    they were marked cannot be carried out."""
    return _steps_as_done(Kept(snapshot.public_id, snapshot))


@lru_cache(maxsize=64)
def _steps_as_done(kept: Kept) -> AsDone | None:
    snapshot = kept.snapshot
    if snapshot.readings is None or snapshot.bench_record is None:
        return None
    plan = snapshot.bench_record.plan_revision.to_core()
    readings = readings_from_data(snapshot.readings)
    try:
        with computing(f"what was done of assessment {snapshot.public_id}"):
            done, reports = look_at_done(
                snapshot.exercise_to_core(), plan, readings, seed=snapshot.seed)
    except CannotBeCarriedOut:
        return None
    return AsDone(done, reports)


# One choice of a student's step tried at every value, at the boundary to the core.


@lru_cache(maxsize=256)
def _try_out(
    document: str, plan: Plan, step_id: str, key: str, seed: int, is_released: bool
) -> Trial | None:
    return try_out(
        read_exercise(document), plan, step_id, IDEAS[key], seed=seed, is_released=is_released)


def tried(work: Work, plan: Plan, step_id: str, key: str, *, is_released: bool) -> Trial | None:
    """What another value of a choice would have done; None where nothing is to be seen.

    With public numbers unless the report is released. Raises CannotBeCarriedOut.
    """
    with computing(f"a trial of a step of work {work.public_id}"):
        return _try_out(
            work.exercise_text, plan, step_id, key, seed_for(work.revision), is_released)
