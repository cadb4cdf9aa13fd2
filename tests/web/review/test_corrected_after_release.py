"""Of two who share a record, one has the result when the other's report is corrected."""

import pytest
from django.urls import reverse

from tests.web.review.reports import USUAL, hand_in_plan, weigh
from workups.models import Review
from workups.selectors.marks import corrected_since, newest_snapshot
from workups.services.bench import join_bench, start_bench
from workups.services.reports import lock_readings
from workups.services.review import accept_report, release_section, return_report

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]
SAID = "readings corrected since the mark was released</span>"


@pytest.fixture
def corrected(work, classmates_work, student, classmate, ta):
    """The released report, whose readings are others by now."""
    for each in (work, classmates_work):
        hand_in_plan(each)
    record = start_bench(actor=student, work=work)
    join_bench(actor=classmate, work=classmates_work, record=record)
    weigh(work, student, USUAL)
    lock_readings(actor=student, record=record)
    accept_report(actor=ta, work=work)
    return_report(actor=ta, work=classmates_work, reason="Weigh again.")
    release_section(actor=ta, assignment=work.assignment)
    assert corrected_since(work) is None
    weigh(classmates_work, classmate, ("45.30", "49.10", "49.10"))
    lock_readings(actor=classmate, record=record)
    return work


def test_the_mark_comes_back_to_staff_until_they_say_a_word(sign_in, corrected, ta, course):
    client = sign_in(ta)
    queue = reverse("review-queue", args=[course.public_id])
    assert SAID in client.get(queue).content.decode()
    page = client.get(reverse("review-report", args=[corrected.public_id])).content.decode()
    marked = Review.objects.get(work=corrected).snapshot
    then, now = (sum(check.points for check in snapshot.to_core().checks) for snapshot in (
        marked, newest_snapshot(corrected)))  # fmt: skip
    assert then != now
    assert f"by those in the record now {now:.1f} of" in page
    client.post(reverse("comment-report", args=[corrected.public_id]), {"text": "It stays."})
    assert SAID not in client.get(queue).content.decode()


def test_the_student_is_told_what_the_points_rest_on(sign_in, corrected):
    page = sign_in(corrected.student).get(reverse("show-report", args=[corrected.public_id]))
    assert "corrected after your result was released" in page.content.decode()
