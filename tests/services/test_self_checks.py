"""Self-check: the policy, the attempts, and that the same plan is not counted twice."""

import pytest

from workups.documents import assessment_from_data
from workups.models import SelfCheck
from workups.selectors.plans import current_plan
from workups.selectors.self_checks import policy_of
from workups.services.planning import PlanIsIncomplete, save_plan
from workups.services.self_checks import NoAttemptsLeft, SelfCheckIsOff, self_check

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
