"""Saving a plan: a history, two tabs that cannot overwrite each other, handing in."""

import pytest

from workups.models import AssessmentSnapshot, PlanRevision, RowIsAppendOnly
from workups.selectors.plans import current_plan, plan_history, submitted_plan
from workups.services import plan_edits
from workups.services.bench import start_bench
from workups.services.planning import (
    PlanIsAtTheBench,
    PlanIsIncomplete,
    StalePlan,
    edit_plan,
    restore_plan,
    save_plan,
    submit_plan,
)


def ids(plan):
    return [step["id"] for step in plan.data["steps"]]


def changed(step, **values):
    return plan_edits.put_step({**step, **values}, "Changed it")


def test_every_save_is_kept_and_the_newest_is_the_plan(planned_work, student):
    save_plan(
        actor=student, work=planned_work, data={"steps": []}, base_version=1, change="Emptied it"
    )
    assert [p.version for p in plan_history(planned_work)] == [2, 1]
    assert current_plan(planned_work).data == {"steps": []}


def test_a_save_on_top_of_an_older_version_is_kept_aside_and_refused(planned_work, student):
    save_plan(actor=student, work=planned_work, data={"steps": []}, base_version=1, change="One")
    with pytest.raises(StalePlan) as stale:
        save_plan(
            actor=student,
            work=planned_work,
            data={"steps": [{"id": "s1", "verb": "cool", "typed": {}}]},
            base_version=1,
            change="Two",
        )
    assert stale.value.aside.aside
    assert ids(stale.value.aside) == ["s1"]
    assert current_plan(planned_work).data == {"steps": []}


def test_changes_of_different_steps_in_two_tabs_both_go_in(planned_work, student):
    first, second = current_plan(planned_work).data["steps"][:2]
    edit_plan(
        actor=student, work=planned_work, base_version=1, edit=changed(first, note="from tab one")
    )
    edit_plan(
        actor=student, work=planned_work, base_version=1, edit=changed(second, note="from tab two")
    )
    notes = [step["note"] for step in current_plan(planned_work).data["steps"][:2]]
    assert notes == ["from tab one", "from tab two"]


def test_changes_of_the_same_step_in_two_tabs_are_both_kept_and_asked_about(planned_work, student):
    step = current_plan(planned_work).data["steps"][0]
    edit_plan(actor=student, work=planned_work, base_version=1, edit=changed(step, note="one"))
    with pytest.raises(StalePlan) as stale:
        edit_plan(actor=student, work=planned_work, base_version=1, edit=changed(step, note="two"))
    assert current_plan(planned_work).data["steps"][0]["note"] == "one"
    assert stale.value.aside.data["steps"][0]["note"] == "two"


def test_a_change_of_a_step_removed_in_the_other_tab_is_asked_about(planned_work, student):
    step = current_plan(planned_work).data["steps"][0]
    edit_plan(
        actor=student,
        work=planned_work,
        base_version=1,
        edit=plan_edits.remove_step(step["id"], "Removed it"),
    )
    with pytest.raises(StalePlan):
        edit_plan(actor=student, work=planned_work, base_version=1, edit=changed(step, note="x"))


def test_the_same_change_twice_is_one_change(planned_work, student):
    step = current_plan(planned_work).data["steps"][0]
    for _ in range(2):
        edit_plan(actor=student, work=planned_work, base_version=1, edit=changed(step, note="x"))
    assert current_plan(planned_work).version == 2


def test_going_back_to_a_draft_adds_a_state_and_erases_none(planned_work, student):
    save_plan(actor=student, work=planned_work, data={"steps": []}, base_version=1, change="Oops")
    restore_plan(actor=student, work=planned_work, version=1, base_version=2)
    assert [p.version for p in plan_history(planned_work)] == [3, 2, 1]
    assert len(current_plan(planned_work).data["steps"]) > 10


def test_a_saved_state_cannot_be_changed_or_removed(planned_work):
    plan = current_plan(planned_work)
    with pytest.raises(RowIsAppendOnly):
        plan.save()
    with pytest.raises(RowIsAppendOnly):
        plan.delete()
    with pytest.raises(RowIsAppendOnly):
        PlanRevision.objects.filter(pk=plan.pk).update(change="nothing")


def test_handing_in_keeps_the_plan_as_it_was_and_assesses_it(submitted_work):
    plan = submitted_plan(submitted_work)
    assert plan.version == 2
    assert plan.submitted_at is not None
    snapshot = AssessmentSnapshot.objects.get(work=submitted_work)
    assert snapshot.plan_revision == plan
    assert snapshot.readings is None


def test_only_the_newest_version_can_be_handed_in(planned_work, student):
    save_plan(actor=student, work=planned_work, data={"steps": []}, base_version=1, change="Other")
    with pytest.raises(StalePlan):
        submit_plan(actor=student, work=planned_work, base_version=1)
    assert submitted_plan(planned_work) is None


@pytest.mark.parametrize("steps", [[], [{"id": "s1", "verb": "cool", "typed": {}}]])
def test_an_empty_or_unfinished_plan_is_not_handed_in(work, student, steps):
    save_plan(actor=student, work=work, data={"steps": steps}, base_version=0, change="Begun")
    with pytest.raises(PlanIsIncomplete):
        submit_plan(actor=student, work=work, base_version=1)


def test_a_plan_at_the_bench_stays_as_it_is(submitted_work, student):
    start_bench(actor=student, work=submitted_work)
    with pytest.raises(PlanIsAtTheBench):
        save_plan(
            actor=student, work=submitted_work, data={"steps": []}, base_version=2, change="Late"
        )
