"""The machine of `workups/services/hand_ins.py`: every event in every state."""

from datetime import timedelta
from importlib import import_module
from unittest.mock import Mock

import pytest
from django.apps import apps
from django.db import IntegrityError, OperationalError, transaction
from django.utils import timezone

from tests.web.review.reports import weigh
from workups.chemistry.plan import Plan
from workups.chemistry.steps import MissingFlask
from workups.documents import plan_to_data
from workups.models import HandIn, Review, Work
from workups.selectors.marks import newest_snapshot
from workups.services import assessments
from workups.services.assessments import assess_work, settle
from workups.services.bench import close_record, start_bench
from workups.services.computing import CannotBeCarriedOut, computing
from workups.services.hand_ins import (
    CouldNotBeAssessed,
    NotAssessedYet,
    NothingToAssess,
    Turn,
    assessed,
    begin_assessing,
    gave_up,
    new_to_assess,
    require_assessed,
)
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings

pytestmark = pytest.mark.django_db
find_states = import_module("workups.migrations.0020_find_where_hand_ins_stand").find_states

NOTHING, SAVED, ASSESSING, ASSESSED, FAILED = HandIn.values


def put(work: Work, state: str) -> Work:
    """The work in a state, as if it had come there."""
    Work.objects.filter(pk=work.pk).update(
        hand_in=state,
        hand_in_at=timezone.now(),
        hand_in_count=0 if state == NOTHING else 3,
        hand_in_problem="no flask" if state == FAILED else "",
    )
    work.refresh_from_db()
    return work


def first_plan(work):
    new_to_assess(work, first=True)


def gives_up(work, count=3):
    gave_up(Turn(work, count), CannotBeCarriedOut("no flask"))


def comes_out(work, count=3):
    assessed(Turn(work, count))


TRANSITIONS = [
    *((state, first_plan, SAVED) for state in HandIn.values),
    (NOTHING, new_to_assess, NOTHING),
    *((state, new_to_assess, SAVED) for state in (SAVED, ASSESSING, ASSESSED, FAILED)),
    (NOTHING, begin_assessing, NothingToAssess),
    *((state, begin_assessing, ASSESSING) for state in (SAVED, ASSESSING, ASSESSED, FAILED)),
    (ASSESSING, comes_out, ASSESSED),
    (ASSESSING, gives_up, FAILED),
    # Somebody else was faster with the same: both found the same out.
    (ASSESSED, comes_out, ASSESSED),
    (FAILED, gives_up, FAILED),
]


@pytest.mark.parametrize(("before", "event", "after"), TRANSITIONS)
def test_every_event_leads_where_the_machine_says(work, before, event, after):
    put(work, before)
    if isinstance(after, str):
        event(work)
        after_state = after
    else:
        with pytest.raises(after):
            event(work)
        after_state = before
    stored = Work.objects.get(pk=work.pk)
    assert stored.hand_in == work.hand_in == after_state
    assert bool(stored.hand_in_problem) == (after_state == FAILED)


@pytest.mark.parametrize("end", [comes_out, gives_up])
@pytest.mark.parametrize("state", [SAVED, ASSESSING, ASSESSED, FAILED])
def test_a_computation_that_something_new_has_overtaken_changes_nothing(work, state, end):
    put(work, state)
    end(work, count=2)
    assert Work.objects.get(pk=work.pk).hand_in == state


@pytest.mark.parametrize(
    ("state", "refusal"),
    [
        (NOTHING, NothingToAssess),
        (SAVED, NotAssessedYet),
        (ASSESSING, NotAssessedYet),
        (ASSESSED, None),
        (FAILED, CouldNotBeAssessed),
    ],
)
def test_only_what_is_assessed_carries_a_mark(work, state, refusal):
    put(work, state)
    if refusal is None:
        require_assessed(work)
    else:
        with pytest.raises(refusal):
            require_assessed(work)


@pytest.mark.parametrize(
    "wrong",
    [
        {"hand_in": "accepted"},
        {"hand_in": NOTHING, "hand_in_count": 1},
        {"hand_in": ASSESSED, "hand_in_count": 0},
        {"hand_in": FAILED, "hand_in_count": 1, "hand_in_problem": ""},
        {"hand_in": ASSESSED, "hand_in_count": 1, "hand_in_problem": "no flask"},
    ],
)
def test_the_database_refuses_what_no_event_leads_to(work, wrong):
    with pytest.raises(IntegrityError), transaction.atomic():
        Work.objects.filter(pk=work.pk).update(**wrong)


@pytest.mark.parametrize("state", ["reviewed", "released"])
def test_the_database_refuses_a_mark_that_rests_on_no_assessment(work, state):
    with pytest.raises(IntegrityError), transaction.atomic():
        Review.objects.create(work=work, state=state)


def test_what_comes_in_during_a_computation_is_in_the_assessment(
    bench_work, student, monkeypatch
):
    """Two computations at once: the one that began with less is thrown away and made anew."""
    compute = assessments.compute_for
    came = []

    def lock_meanwhile(work):
        computed = compute(work)
        if not came:
            came.append(True)
            weigh(bench_work, student, ("45.30", "51.62", "51.62"))
            lock_readings(actor=student, record=Work.objects.get(pk=work.pk).bench_record)
        return computed

    monkeypatch.setattr("workups.services.assessments.compute_for", lock_meanwhile)
    snapshot = assess_work(actor=student, work=bench_work, reason="begun early, done late")
    assert snapshot == newest_snapshot(bench_work)
    assert snapshot.to_core().readings[0].mass_g == pytest.approx(6.32)
    assert Work.objects.get(pk=bench_work.pk).hand_in == ASSESSED


def test_a_plan_of_steps_that_no_flask_can_follow_is_its_own_fault(
    planned_work, student, few_draws
):
    plan = planned_work.to_core().model_plan
    missing = [s for s in plan.steps if s.id != "wash-brine"]
    save_plan(
        actor=student,
        work=planned_work,
        data={"steps": plan_to_data(Plan(tuple(missing)))},
        base_version=1,
        change="Left the brine out",
    )
    submit_plan(actor=student, work=planned_work, base_version=2)
    assert planned_work.hand_in in (FAILED, ASSESSED)  # as the core has it
    assert "administrator" not in planned_work.hand_in_problem


def test_what_the_plan_says_is_the_reason_and_needs_no_administrator(caplog):
    with pytest.raises(CannotBeCarriedOut) as raised, computing("a plan"):
        raise MissingFlask("there is no flask named 'ether' at this point")
    assert str(raised.value) == "there is no flask named 'ether' at this point"
    assert not caplog.records


def test_trouble_of_the_database_is_not_the_cores(caplog):
    with pytest.raises(OperationalError), computing("a plan"):
        raise OperationalError("disk I/O error")
    assert not caplog.records


def test_a_stop_of_the_program_leaves_it_to_be_found(submitted_work, student, monkeypatch):
    new_to_assess(submitted_work)
    with monkeypatch.context() as killed:
        killed.setattr("workups.services.assessments.compute_for", Mock(side_effect=SystemExit))
        with pytest.raises(SystemExit):
            settle(actor=student, work=submitted_work, reason="again")
    assert Work.objects.get(pk=submitted_work.pk).hand_in == ASSESSING
    start_bench(actor=student, work=submitted_work)
    assert submitted_work.hand_in == ASSESSED


def test_nothing_is_assessed_twice_without_need(submitted_work, student):
    known = submitted_work.snapshots.count()
    settle(actor=student, work=submitted_work, reason="again")
    assert submitted_work.snapshots.count() == known
    assert submitted_work.hand_in_at > timezone.now() - timedelta(minutes=5)


def as_before_states_were_kept(work):
    Work.objects.filter(pk=work.pk).update(hand_in=NOTHING, hand_in_at=None, hand_in_count=0)
    find_states(apps, None)
    return Work.objects.get(pk=work.pk).hand_in


def test_what_came_in_before_states_were_kept_gets_its_state(
    planned_work, classmates_work, student, few_draws
):
    assert as_before_states_were_kept(planned_work) == NOTHING
    submit_plan(actor=student, work=planned_work, base_version=1)
    assert as_before_states_were_kept(planned_work) == ASSESSED
    record = start_bench(actor=student, work=planned_work)
    assert as_before_states_were_kept(planned_work) == ASSESSED
    close_record(actor=student, record=record)  # and the program stops
    assert as_before_states_were_kept(planned_work) == SAVED
    assess_work(actor=student, work=planned_work)
    assert as_before_states_were_kept(planned_work) == ASSESSED
