"""Of two who share a record, one cannot have the result while the readings are open again."""

import pytest
from django.urls import reverse

from tests.web.review.reports import USUAL, hand_in_plan, weigh
from workups.models import Review
from workups.selectors.works import record_is_locked
from workups.services.bench import join_bench, start_bench
from workups.services.reports import lock_readings
from workups.services.review import accept_report, release_section, return_report

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]


@pytest.fixture
def shared(work, classmates_work, student, classmate, ta):
    """The first one's report is accepted, the partner's waits."""
    for each in (work, classmates_work):
        hand_in_plan(each)
    record = start_bench(actor=student, work=work)
    join_bench(actor=classmate, work=classmates_work, record=record)
    weigh(work, student, USUAL)
    lock_readings(actor=student, record=record)
    accept_report(actor=ta, work=work)
    return work, classmates_work


def state_of(work):
    return Review.objects.get(work=work).state


def test_who_shares_readings_with_a_released_result_does_not_get_them_back(sign_in, shared, ta):
    mine, partners = shared
    release_section(actor=ta, assignment=mine.assignment)
    client, page = sign_in(ta), reverse("review-report", args=[partners.public_id])
    assert "a partner has the result of these readings" in client.get(page).content.decode()
    sent = client.post(reverse("return-report", args=[partners.public_id]), {"reason": "Again."})
    assert "A partner has the result" in client.get(sent.url).content.decode()
    assert state_of(partners) == Review.State.WAITING
    assert record_is_locked(mine.bench_record)


def test_a_result_waits_while_a_partner_corrects_the_readings(sign_in, shared, ta):
    mine, partners = shared
    return_report(actor=ta, work=partners, reason="Weigh again.")
    url = reverse("release-section", args=[mine.assignment.public_id])
    page = sign_in(ta).post(url, follow=True).content.decode()
    assert "One accepted report is left where it stood" in page
    assert state_of(mine) == Review.State.REVIEWED
    lock_readings(actor=partners.student, record=mine.bench_record)
    assert state_of(mine) == Review.State.WAITING


def test_reports_of_their_own_records_go_back_as_before(shared, ta):
    mine, partners = shared
    return_report(actor=ta, work=partners, reason="Weigh again.")
    assert state_of(partners) == Review.State.RETURNED
    assert not record_is_locked(mine.bench_record)
