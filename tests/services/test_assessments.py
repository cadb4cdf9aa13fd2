"""One way to an assessment, and a snapshot of everything it was computed from."""

import pytest

from tests.entries import enter
from workups.documents import assessment_from_data
from workups.models import AssessmentSnapshot, RowIsAppendOnly
from workups.services.assessments import (
    NothingToAssess,
    assess_work,
    compute_assessment,
    seed_for,
)
from workups.services.bench import join_bench
from workups.services.entries import EntryOrigin, StepMark
from workups.services.planning import save_plan, submit_plan

pytestmark = pytest.mark.usefixtures("few_draws")


def checks_of(snapshot):
    return {c.name: c for c in assessment_from_data(snapshot.assessment).checks}


def test_like_plans_get_like_numbers_whoever_wrote_them(
    submitted_work, classmates_work, classmate
):
    data = submitted_work.plan_revisions.first().data
    save_plan(actor=classmate, work=classmates_work, data=data, base_version=0, change="Wrote")
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    one, other = (w.snapshots.first() for w in (submitted_work, classmates_work))
    assert one.seed == other.seed == seed_for(submitted_work.revision)
    assert one.assessment == other.assessment


def test_a_new_assessment_stands_beside_the_old_one(submitted_work, student):
    old = submitted_work.snapshots.first()
    new = assess_work(actor=student, work=submitted_work, reason="again")
    assert list(submitted_work.snapshots.all()) == [new, old]
    assert new.assessment == old.assessment
    with pytest.raises(RowIsAppendOnly):
        AssessmentSnapshot.objects.filter(pk=old.pk).update(reason="nothing")


def test_without_a_plan_there_is_nothing_to_assess(work, student):
    with pytest.raises(NothingToAssess):
        assess_work(actor=student, work=work)


def test_a_plan_that_no_flask_can_follow_is_told_as_such(revision):
    """Assessed up to that step, and held: a person has to look before it goes to the bench."""
    plan = revision.to_core().model_plan.without("extract")
    found = compute_assessment(revision=revision, plan=plan)
    assert found.safety_holds == ("cannot-be-carried-out",)


def test_a_step_marked_as_skipped_that_others_need_is_asked_about(bench_work, student):
    """The extraction that makes the organic layer is marked as skipped, the washes are not."""
    from uuid import uuid4

    record = bench_work.bench_record
    step = next(s for s in record.plan_revision.data["steps"] if s["id"] == "extract")
    enter(
        record, EntryOrigin(by=student, client_token=uuid4()), StepMark("extract", "skipped", step)
    )
    snapshot = assess_work(actor=student, work=bench_work, reason="readings locked")
    assert snapshot.reason == "readings locked"
    [asked] = [f for f in checks_of(snapshot)["yield"].findings if f.code == "skipped-but-needed"]
    assert (asked.step, asked.question, asked.charged) == ("extract", True, False)


def test_marks_that_cannot_be_followed_are_left_out_and_said(bench_work, student):
    """The extraction is marked as changed, into a flask that no later step knows."""
    from uuid import uuid4

    record = bench_work.bench_record
    step = next(s for s in record.plan_revision.data["steps"] if s["id"] == "extract")
    enter(
        record,
        EntryOrigin(by=student, client_token=uuid4()),
        StepMark("extract", "changed", {**step, "keep_in": "beaker"}),
    )
    snapshot = assess_work(actor=student, work=bench_work, reason="readings locked")
    assert "left out" in snapshot.reason
    assert "organic layer" in snapshot.reason


def test_a_partner_is_judged_by_the_own_plan(bench_work, classmates_work, classmate):
    """The partner's plan stops short of the last step and brings nothing into its own flask."""
    steps = bench_work.bench_record.plan_revision.data["steps"]
    own = [s for s in steps if s["id"] != "wash-brine" and "brine" not in s["id"]]
    save_plan(
        actor=classmate,
        work=classmates_work,
        data={"steps": own},
        base_version=0,
        change="Wrote",
    )
    submit_plan(actor=classmate, work=classmates_work, base_version=1)
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    snapshot = assess_work(actor=classmate, work=classmates_work)
    steps_assessed = [s.step for s in assessment_from_data(snapshot.assessment).steps]
    assert steps_assessed == [s["id"] for s in own]
    assert checks_of(snapshot)["yield"].note == "no mass on record"


def test_a_reason_longer_than_its_column_does_not_keep_an_assessment_out(submitted_work, student):
    assess_work(actor=student, work=submitted_work, reason="x" * 400)
    assert submitted_work.snapshots.first().reason == "x" * 300
