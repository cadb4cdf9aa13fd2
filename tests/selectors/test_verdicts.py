"""Lists of reports are made of typed verdicts, which say what the stored assessments say."""

import re
from pathlib import Path

import pytest

import workups
from tests.web.review.reports import hand_in_report
from workups.grading.assessment import Verdict
from workups.models import AssessmentSnapshot
from workups.selectors.verdicts import scores, verdicts


@pytest.fixture
def report(work, few_draws):
    return hand_in_report(work)


def test_a_verdict_is_its_assessment_without_the_steps(report):
    snapshots = AssessmentSnapshot.objects.filter(work=report)
    found = verdicts(snapshots)
    assert set(found) == set(snapshots.values_list("pk", flat=True))
    for snapshot in snapshots:
        whole, verdict = snapshot.to_core(), found[snapshot.pk]
        assert whole.checks
        assert all(getattr(verdict, part) == getattr(whole, part)
                   for part in Verdict.__dataclass_fields__)
        assert (verdict.points, verdict.findings) == (whole.points, whole.findings)
        assert [(s.name, s.points, s.out_of) for s in scores(snapshots)[snapshot.pk]] == [
            (c.name, c.points, c.out_of) for c in whole.checks]


def test_verdicts_of_many_are_one_query_that_leaves_the_steps(
    report, django_assert_num_queries
):
    with django_assert_num_queries(1) as asked:
        assert verdicts(AssessmentSnapshot.objects.filter(work=report))
    assert "phases" not in asked.captured_queries[0]["sql"]
    assert '"steps"' not in asked.captured_queries[0]["sql"]


def test_nobody_else_reads_parts_of_a_stored_assessment() -> None:
    """Keys of its JSON stand in one place; everybody else has dataclasses and columns."""
    root = Path(workups.__file__).parent
    reading = {path.relative_to(root).as_posix() for path in root.rglob("*.py")
               if re.search(r"assessment__\w|\bassessment\[", path.read_text(encoding="utf-8"))}
    assert reading == {"selectors/verdicts.py"}
