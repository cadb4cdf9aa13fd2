"""What many assessments come to, at once."""

from dataclasses import fields

from django.db.models import QuerySet

from workups.documents import verdict_from_data
from workups.grading.assessment import Verdict
from workups.models import AssessmentSnapshot

_PARTS = tuple(part.name for part in fields(Verdict))


def verdicts(snapshots: QuerySet[AssessmentSnapshot]) -> dict[int, Verdict]:
    """The verdict of each assessment by its key, in the order asked for.

    What the steps did is nine tenths of an assessment; it stays in the database.
    """
    rows = snapshots.values_list("pk", *(f"assessment__{part}" for part in _PARTS))
    return {pk: verdict_from_data(dict(zip(_PARTS, found, strict=True))) for pk, *found in rows}
