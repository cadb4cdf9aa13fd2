"""Every assessment goes through `compute_assessment`, so that equal work is judged alike."""

import dataclasses
import hashlib
from typing import Any

from django.db import transaction

from workups.chemistry.plan import Plan
from workups.chemistry.readings import Readings
from workups.documents import assessment_to_data, readings_from_data, readings_to_data
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.models import (
    AssessmentSnapshot,
    BenchRecord,
    ExerciseRevision,
    Person,
    PlanRevision,
    Work,
)
from workups.selectors.bench_readings import readings_to_core
from workups.selectors.plans import submitted_plan
from workups.selectors.reagents import reagent_check_of

DRAWS = 500


class NothingToAssess(Exception):
    """The student has handed in no plan."""


def seed_for(revision: ExerciseRevision) -> int:
    """The seed of the draws: one per published revision, so that like plans get like bands."""
    digest = hashlib.sha256(revision.public_id.bytes).digest()
    return int.from_bytes(digest[:4], "big")


def compute_assessment(
    *, revision: ExerciseRevision, plan: Plan | None, readings: Readings | None = None
) -> Assessment:
    """Assess a plan (None: the model plan) and readings; no rows are read or written."""
    return assess(
        revision.to_core(), plan, readings, seed=seed_for(revision), draws=DRAWS
    )


def assess_work(*, actor: Person | None, work: Work, reason: str = "") -> AssessmentSnapshot:
    """Compute and store a new assessment of what the student handed in; older ones stay."""
    plan = submitted_plan(work)
    if plan is None:
        raise NothingToAssess
    record = work.bench_record
    readings = None if record is None else record_as_data(record, work)
    assessment = compute_assessment(
        revision=work.revision,
        plan=plan.to_core(),
        readings=None if readings is None else readings_from_data(readings),
    )
    assessment = with_reagent_table(assessment, work)
    return _store_snapshot(actor, work, plan, readings, assessment, reason)


def record_as_data(record: BenchRecord, work: Work) -> dict[str, Any]:
    targets = [target.substance for target in work.revision.to_core().setup.targets]
    return readings_to_data(readings_to_core(record, targets, work.explanation))


def with_reagent_table(assessment: Assessment, work: Work) -> Assessment:
    """The assessment with the reagent table judged from the student's answers as one check more."""
    out_of = work.revision.to_core().rubric.points.get("reagent_table", 0.0)
    judged = reagent_check_of(work, out_of)
    return dataclasses.replace(assessment, checks=(*assessment.checks, judged))


@transaction.atomic
def _store_snapshot(
    actor: Person | None,
    work: Work,
    plan: PlanRevision,
    readings: dict[str, Any] | None,
    assessment: Assessment,
    reason: str,
) -> AssessmentSnapshot:
    snapshot = AssessmentSnapshot(
        work=work,
        assignment=work.assignment,
        revision=work.revision,
        plan_revision=plan,
        bench_record=work.bench_record,
        readings=readings,
        engine=assessment.engine,
        seed=assessment.seed,
        draws=assessment.draws,
        assessment=assessment_to_data(assessment),
        made_by=actor,
        reason=reason,
    )
    snapshot.full_clean()
    snapshot.save()
    return snapshot
