"""The own plan beside another: only after release, and only plans of this exercise."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.entries import enter
from tests.web.review.reports import USUAL, hand_in_report, put_out, weigh
from workups.models import Assignment
from workups.services.entries import EntryOrigin, StepMark
from workups.services.reports import lock_readings, submit_report

pytestmark = pytest.mark.usefixtures("few_draws")


def without_a_wash(plan):
    first = next(s for s in plan.steps if s.verb == "wash")
    return type(plan)(tuple(s for s in plan.steps if s is not first))


def release(work):
    past = timezone.now() - timedelta(minutes=1)
    Assignment.objects.filter(pk=work.assignment_id).update(plan_due=past, report_due=past)
    put_out(work)


@pytest.fixture
def released(work):
    hand_in_report(work, change=without_a_wash)
    release(work)
    return work


def page(client, work, **asked):
    return client.get(reverse("compare-plans", args=[work.public_id]), asked, follow=True)


def test_it_opens_with_the_release(sign_in, student, work):
    hand_in_report(work)
    answer = page(sign_in(student), work)
    assert answer.redirect_chain
    assert "once the report is released" in answer.content.decode()


def test_the_instructors_plan_has_the_wash_that_the_own_one_lacks(sign_in, student, released):
    client = sign_in(student)
    assert reverse("compare-plans", args=[released.public_id]) in client.get(
        reverse("show-report", args=[released.public_id])).content.decode()
    text = page(client, released).content.decode()
    assert "not so my plan" in text
    assert "Where the two differ" in text


def test_what_was_done_as_planned_differs_nowhere(sign_in, student, released):
    text = page(sign_in(student), released, **{"with": "done"}).content.decode()
    assert "Nothing differs" in text


def test_a_plan_that_there_is_not_gives_the_instructors(sign_in, student, released):
    text = page(sign_in(student), released, **{"with": "nobody’s"}).content.decode()
    assert "<strong>the instructor&#x27;s plan</strong>" in text


def test_a_step_skipped_at_the_bench_is_marked_for_the_student_and_the_ta(
    sign_in, student, ta, bench_work
):
    steps = {s["id"]: s for s in bench_work.bench_record.plan_revision.data["steps"]}
    enter(
        bench_work.bench_record, EntryOrigin(by=student, client_token=uuid4()),
        StepMark("wash-water", "skipped", steps["wash-water"]))
    weigh(bench_work, student, USUAL)
    lock_readings(actor=student, record=bench_work.bench_record)
    submit_report(actor=student, work=bench_work, explanation="Forgot it.")
    marked = "not so as done"
    ta_page = reverse("review-report", args=[bench_work.public_id])
    assert marked in sign_in(ta).get(ta_page).content.decode()
    report = reverse("show-report", args=[bench_work.public_id])
    client = sign_in(student)
    assert marked not in client.get(report).content.decode()
    release(bench_work)
    assert marked in client.get(report).content.decode()
