"""Schemes of a report, for the student after release and for who marks it."""

from functools import lru_cache

from workups.models import AssessmentSnapshot
from workups.selectors.student_findings import found_at_steps
from workups.services.assessments import Kept, steps_as_done
from workups.sheets.scheme import Beside, scheme_figure, schemes_beside
from workups.sheets.scheme.beside import Side
from workups.sheets.svg import Figure

PLANNED, DONE = "as planned", "as done"


def planned_side(snapshot: AssessmentSnapshot) -> Side:
    """The plan that was handed in, with what was found at its steps."""
    assessment = snapshot.to_core()
    remarks = found_at_steps(f for check in assessment.checks for f in check.findings)
    return Side(PLANNED, snapshot.plan_revision.to_core(), assessment.steps, remarks)


def planned_beside_done(snapshot: AssessmentSnapshot) -> Beside | None:
    """The plan beside what was done; None where nothing was done or it was done as planned."""
    return _beside(Kept(snapshot.public_id, snapshot))


# A report is looked at again after every change of its mark, so the last ones are kept.
@lru_cache(maxsize=64)
def _beside(kept: Kept) -> Beside | None:
    done = steps_as_done(kept.snapshot)
    if done is None:
        return None
    found = schemes_beside(
        kept.snapshot.exercise_to_core(), planned_side(kept.snapshot),
        Side(DONE, done.plan, done.reports, {}))
    return found if found.differences else None


def scheme_of_plan(snapshot: AssessmentSnapshot) -> Figure:
    """What the plan that was handed in does, with what was found at its steps."""
    return _scheme(Kept(snapshot.public_id, snapshot))


@lru_cache(maxsize=64)
def _scheme(kept: Kept) -> Figure:
    side = planned_side(kept.snapshot)
    return scheme_figure(
        kept.snapshot.exercise_to_core(), side.plan, side.reports, shares_only=False,
        remarks=side.remarks)
