"""Lists of reports are made of typed verdicts, which say what the stored assessments say."""

import pytest

from tests.web.review.reports import hand_in_report
from workups.grading.assessment import Verdict
from workups.models import AssessmentSnapshot
from workups.selectors.verdicts import verdicts


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


def test_verdicts_of_many_are_one_query_that_leaves_the_steps(
    report, django_assert_num_queries
):
    with django_assert_num_queries(1) as asked:
        assert verdicts(AssessmentSnapshot.objects.filter(work=report))
    assert "phases" not in asked.captured_queries[0]["sql"]
    assert '"steps"' not in asked.captured_queries[0]["sql"]
