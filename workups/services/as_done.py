"""What was done at the bench, carried out anew for pictures."""

from dataclasses import dataclass, field
from functools import lru_cache
from uuid import UUID

from workups.chemistry.plan import Plan
from workups.documents import readings_from_data
from workups.grading.assessment import StepReport
from workups.grading.looking import look_at_done
from workups.models import AssessmentSnapshot
from workups.services.computing import CannotBeCarriedOut, computing


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
