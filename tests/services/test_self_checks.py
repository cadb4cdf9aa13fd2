"""Self-check: the policy, the attempts, and that the same plan is not counted twice."""

import pytest

from workups.documents import assessment_from_data
from workups.models import SelfCheck
from workups.selectors.plans import current_plan
from workups.selectors.self_checks import policy_of
from workups.services.computing import CannotBeCarriedOut
from workups.services.planning import PlanIsIncomplete, save_plan
from workups.services.self_checks import (
    LONGEST,
    CheckIsRunning,
    NoAttemptsLeft,
    SelfCheckIsOff,
    self_check,
)

pytestmark = pytest.mark.usefixtures("few_draws")


def shorten(work, student):
    plan = current_plan(work)
    save_plan(
        actor=student,
        work=work,
        data={"steps": plan.data["steps"][:-1]},
        base_version=plan.version,
        change="Took the last step out",
    )


def test_a_check_keeps_the_whole_assessment_with_its_plan(planned_work, student):
    found = self_check(actor=student, work=planned_work)
    assert found.plan_revision == current_plan(planned_work)
    assessment = assessment_from_data(found.assessment)
    assert [s.step for s in assessment.steps][:2] == ["cool", "dilute"]
    assert "reagent_table" in {c.name for c in assessment.checks}


def test_checking_the_same_plan_again_is_one_attempt(planned_work, student):
    assert self_check(actor=student, work=planned_work) == self_check(
        actor=student, work=planned_work
    )
    assert SelfCheck.objects.count() == 1


def test_the_attempts_of_the_policy_are_all_there_are(planned_work, student, assignment):
    assignment.feedback_attempts = 1
    assignment.save()
    planned_work.refresh_from_db()
    self_check(actor=student, work=planned_work)
    assert policy_of(planned_work).attempts_left == 0
    shorten(planned_work, student)
    with pytest.raises(NoAttemptsLeft):
        self_check(actor=student, work=planned_work)


def test_an_exercise_may_say_nothing(planned_work, student, assignment):
    assignment.feedback_detail = "nothing"
    assignment.save()
    planned_work.refresh_from_db()
    with pytest.raises(SelfCheckIsOff):
        self_check(actor=student, work=planned_work)


def test_an_unfinished_plan_is_not_checked(work, student):
    save_plan(
        actor=student,
        work=work,
        data={"steps": [{"id": "s1", "verb": "cool", "typed": {}}]},
        base_version=0,
        change="Begun",
    )
    with pytest.raises(PlanIsIncomplete):
        self_check(actor=student, work=work)


def test_one_that_the_server_stopped_counts_and_two_do_not_run_at_once(
    planned_work, student, few_draws, monkeypatch
):
    """A process that is killed has no time to say so: what it began is noted before."""
    assignment = planned_work.assignment
    assignment.feedback_attempts = 2
    assignment.save()
    module = "workups.services.self_checks"

    def killed(*_):
        raise SystemExit

    with monkeypatch.context() as patch:
        patch.setattr(f"{module}.assess_publicly", killed)
        with pytest.raises(SystemExit):
            self_check(actor=student, work=planned_work)
    with pytest.raises(CheckIsRunning):
        self_check(actor=student, work=planned_work)
    planned_work.checking_since -= LONGEST
    planned_work.save()
    assert self_check(actor=student, work=planned_work).attempt == 1
    assert policy_of(planned_work).attempts_left == 0


def test_one_that_cannot_be_carried_out_ends(planned_work, student, monkeypatch):
    def impossible(*_):
        raise CannotBeCarriedOut("flask 2 is empty")

    monkeypatch.setattr("workups.services.self_checks.assess_publicly", impossible)
    for _ in range(2):
        with pytest.raises(CannotBeCarriedOut):
            self_check(actor=student, work=planned_work)
    assert planned_work.checks_cut_short == 0
