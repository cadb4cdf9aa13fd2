from dataclasses import replace

import pytest

from tests.conftest import make_member
from tests.web.review.reports import hand_in_plan, hand_in_report
from workups.chemistry.plan import Plan
from workups.models import Assignment, Course, Role, Section, Work
from workups.services.works import start_work


@pytest.fixture(autouse=True)
def _coarse(few_draws: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every page here computes; none depends on how fine the bands are.

    Every revision gets the same seed, so that little is computed twice.
    """
    monkeypatch.setattr("workups.services.assessments.seed_for", lambda _: 1)


@pytest.fixture
def report(work: Work) -> Work:
    """The student's report, straightforward, waiting for review."""
    return hand_in_report(work)


@pytest.fixture
def new_work(course: Course, section: Section, assignment: Assignment, enrolment_of):
    """Make a work of another invented student: `new_work("nora.new")`."""

    def make(sign_in: str, given: Assignment = assignment) -> Work:
        person = make_member(course, sign_in, Role.STUDENT, section=given.section)
        return start_work(assignment=given, enrolment=enrolment_of(person))

    return make


def stoppered_at_once(plan: Plan) -> Plan:
    """The first acid wash left out and the bicarbonate stoppered unvented: a safety hold."""
    steps = [s for s in plan.steps if s.id != "wash-water"]
    steps = [
        replace(s, swirl_open=False, vent=False) if s.id == "wash-bicarbonate" else s
        for s in steps
    ]
    return Plan(tuple(steps))


@pytest.fixture
def held_work(work: Work) -> Work:
    """A plan that is held for safety."""
    return hand_in_plan(work, stoppered_at_once)

