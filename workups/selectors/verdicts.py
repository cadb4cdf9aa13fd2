"""What many assessments come to, at once: the one place that reads parts of stored assessments.

What the steps did is nine tenths of an assessment; it stays in the database.
"""

from dataclasses import dataclass, fields

from django.db.models import QuerySet

from workups.documents import verdict_from_data
from workups.grading.assessment import Verdict
from workups.models import AssessmentSnapshot


@dataclass(frozen=True)
class Score:
    """The points of one check, without what was found."""

    name: str
    points: float
    out_of: float


_PARTS = tuple(part.name for part in fields(Verdict))


def verdicts(snapshots: QuerySet[AssessmentSnapshot]) -> dict[int, Verdict]:
    """The verdict of each assessment by its key, in the order asked for."""
    rows = snapshots.values_list("pk", *(f"assessment__{part}" for part in _PARTS))
    return {pk: verdict_from_data(dict(zip(_PARTS, found, strict=True))) for pk, *found in rows}


def scores(snapshots: QuerySet[AssessmentSnapshot]) -> dict[int, tuple[Score, ...]]:
    """The points of each assessment by its key, check by check."""
    rows = snapshots.values_list("pk", "assessment__checks")
    return {pk: tuple(Score(c["name"], c["points"], c["out_of"]) for c in checks)
            for pk, checks in rows}


def held_plans(snapshots: QuerySet[AssessmentSnapshot]) -> set[int]:
    """Keys of the plans whose newest of these assessments has a safety hold."""
    rows = snapshots.order_by("made_at", "pk").values_list(
        "plan_revision_id", "assessment__safety_holds")
    return {plan for plan, holds in dict(rows).items() if holds}
