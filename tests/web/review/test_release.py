"""Releasing a section at once, holding back for open readings, and letting out with a reason."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.web.review.reports import hand_in_plan, weigh
from workups.models import Assignment, AuditEntry, Review
from workups.selectors.reports import is_released
from workups.services.bench import start_bench
from workups.services.exercises import assign_revision
from workups.services.review import accept_report


def url_of(name, row):
    return reverse(name, args=[row.public_id])


@pytest.fixture
def accepted(report, ta):
    accept_report(actor=ta, work=report)
    return report


@pytest.fixture
def open_elsewhere(revision, other_section, new_work, terms, instructor):
    """Another section with the same exercise, a student of which can still enter readings."""
    given = assign_revision(
        actor=instructor, revision=revision, section=other_section, terms=terms
    )
    return new_work("olga.other", given)


def test_reviewed_reports_are_released_together(sign_in, ta, accepted, course, new_work):
    waiting = hand_in_plan(new_work("wanda.waits"))
    client = sign_in(ta)
    page = client.get(url_of("review-queue", course)).content.decode()
    assert "Release Tuesday A" in page
    response = client.post(url_of("release-section", accepted.assignment), follow=True)
    assert "One result of Tuesday A is released" in response.content.decode()
    assert Review.objects.get(work=accepted).released_by == ta
    assert not Review.objects.filter(work=waiting).exists()
    assert AuditEntry.objects.filter(action="release-report").count() == 1
    again = client.post(url_of("release-section", accepted.assignment), follow=True)
    assert "No report of this section waits" in again.content.decode()


def test_results_wait_for_the_open_readings_of_another_section(
    sign_in, ta, instructor, accepted, open_elsewhere
):
    response = sign_in(ta).post(url_of("release-section", accepted.assignment), follow=True)
    assert "Students see them once no other section" in response.content.decode()
    assert not is_released(accepted)
    url = url_of("open-results", accepted.assignment)
    client = sign_in(instructor)
    queue = client.get(url_of("review-queue", accepted.revision.course)).content.decode()
    assert "are not shown to students yet: one student can still enter readings" in queue
    assert url in queue
    assert "could learn what mass is expected" in client.get(url).content.decode()
    assert client.post(url, {"reason": ""}).status_code == 200
    assert not is_released(accepted)
    client.post(url, {"reason": "The other section was cancelled."})
    accepted.assignment.refresh_from_db()
    assert is_released(accepted)
    entry = AuditEntry.objects.get(action="open-results")
    assert entry.details["reason"] == "The other section was cancelled."
    told = client.get(url_of("show-mark-history", accepted)).content.decode()
    assert "The other section was cancelled." in told
    assert "Nothing holds the results" in client.get(url).content.decode()


def test_only_the_instructor_lets_results_out(
    client, sign_in, leads_to_sign_in, ta, student, outsider, assignment, instructor
):
    url = url_of("open-results", assignment)
    assert leads_to_sign_in(url)
    for person, status in ((ta, 403), (student, 403), (outsider, 404)):
        assert sign_in(person).post(url, {"reason": "x"}).status_code == status
    assert sign_in(instructor).delete(url).status_code == 405


def test_releasing_is_for_teaching_staff_of_the_section(
    client, sign_in, leads_to_sign_in, ta, student, stockroom, outsider, assignment,
    other_section,
):
    url = url_of("release-section", assignment)
    assert leads_to_sign_in(url, "post")
    for person, status in ((student, 403), (stockroom, 403), (outsider, 404)):
        assert sign_in(person).post(url).status_code == status
    assert sign_in(ta).get(url).status_code == 405
    assignment.section = other_section
    assignment.save()
    assert sign_in(ta).post(url).status_code == 403


def test_records_past_their_date_are_locked_and_assessed(
    sign_in, ta, course, work, student
):
    hand_in_plan(work)
    start_bench(actor=student, work=work)
    work.refresh_from_db()
    weigh(work, student, ("45.30", "51.62", "51.62"))
    client = sign_in(ta)
    assert "past their date" not in client.get(url_of("review-queue", course)).content.decode()
    past = timezone.now() - timedelta(hours=1)
    Assignment.objects.update(plan_due=past, report_due=past)
    page = client.get(url_of("review-queue", course)).content.decode()
    assert "Records whose date has passed" in page
    response = client.post(url_of("lock-overdue", course), follow=True)
    assert "One record is locked and assessed." in response.content.decode()
    work.bench_record.refresh_from_db()
    assert work.bench_record.locked_at is not None
    assert Review.objects.get(work=work).state == Review.State.WAITING
    assert "Records whose date" not in response.content.decode()


def test_locking_what_is_overdue_is_for_teaching_staff(
    client, sign_in, leads_to_sign_in, course, student, outsider, ta
):
    url = url_of("lock-overdue", course)
    assert leads_to_sign_in(url, "post")
    for person, status in ((student, 403), (outsider, 404)):
        assert sign_in(person).post(url).status_code == status
    assert sign_in(ta).get(url).status_code == 405
