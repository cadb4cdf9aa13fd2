"""A partner's code is on every flask label: it asks, and an owner of the record answers."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.conftest import make_member
from tests.web.review.reports import hand_in_plan, weigh
from workups.models import AuditEntry, Role, ShareRequest
from workups.services.bench import WRONG_CODES, close_record, start_bench
from workups.services.works import start_work

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("few_draws")]


def url_of(name, work):
    return reverse(name, args=[work.public_id])


@pytest.fixture
def ready(classmates_work):
    """The classmate's own plan is handed in."""
    return hand_in_plan(classmates_work)


@pytest.fixture
def ask(sign_in):
    def send(work, code):
        data = {"code": code}
        return sign_in(work.student).post(url_of("join-bench", work), data, follow=True)

    return send


@pytest.fixture
def answer(sign_in):
    def send(owner, work, grant, asked=None):
        asked = asked or ShareRequest.objects.get(granted=None, record__isnull=False)
        data = {"asked": asked.public_id, "grant": grant}
        return sign_in(owner).post(url_of("answer-share", work), data, follow=True)

    return send


def owners(record):
    return {work.student for work in record.works.all()}


def test_whoever_reads_the_code_off_a_label_sees_and_does_nothing(
    sign_in, ask, bench_work, student, ready
):
    weigh(bench_work, student, ("45.30", "51.62", "51.63"))
    page = ask(ready, bench_work.bench_code).content.decode()
    assert "Your partner is asked" in page
    assert "51.62" not in page
    assert student.display_name not in page
    ready.refresh_from_db()
    assert ready.bench_record is None
    client = sign_in(ready.student)
    assert client.post(url_of("lock-readings", ready)).status_code == 404
    assert owners(bench_work.bench_record) == {student}
    assert AuditEntry.objects.filter(action="ask-to-share").exists()


def test_the_owner_lets_them_in(sign_in, ask, answer, bench_work, student, ready):
    ask(ready, bench_work.bench_code)
    page = sign_in(student).get(url_of("show-bench", bench_work)).content.decode()
    assert "Sven Student asks to share this record" in page
    page = answer(student, bench_work, "yes").content.decode()
    assert "Sven Student shares the record now" in page
    assert "asks to share" not in page
    assert owners(bench_work.bench_record) == {student, ready.student}


def test_the_owner_does_not(sign_in, ask, answer, bench_work, student, ready):
    ask(ready, bench_work.bench_code)
    assert "was not let in" in answer(student, bench_work, "no").content.decode()
    page = sign_in(ready.student).get(url_of("show-bench", ready)).content.decode()
    assert "You were not let in" in page
    assert owners(bench_work.bench_record) == {student}
    assert "Your partner is asked" in ask(ready, bench_work.bench_code).content.decode()


def test_nobody_but_an_owner_of_that_record_answers(
    ask, answer, bench_work, ready, course, section, assignment, enrolment_of
):
    ask(ready, bench_work.bench_code)
    third = make_member(course, "tara.third", Role.STUDENT, section=section)
    thirds = hand_in_plan(start_work(assignment=assignment, enrolment=enrolment_of(third)))
    start_bench(actor=third, work=thirds)
    assert answer(ready.student, ready, "yes").status_code == 404
    assert answer(ready.student, bench_work, "yes").status_code == 404
    assert "is answered" in answer(third, thirds, "yes").content.decode()
    ready.refresh_from_db()
    assert ready.bench_record is None


@pytest.mark.parametrize("sent", [{}, {"grant": "yes"}, {"asked": "x", "grant": "yes"}])
def test_an_answer_that_says_nothing_lets_nobody_in(
    sign_in, ask, bench_work, student, ready, sent
):
    ask(ready, bench_work.bench_code)
    page = sign_in(student).post(url_of("answer-share", bench_work), sent, follow=True)
    assert "is answered, or was taken back" in page.content.decode()
    assert owners(bench_work.bench_record) == {student}


def test_codes_are_not_tried_through(ask, bench_work, ready, monkeypatch):
    for number in range(WRONG_CODES):
        page = ask(ready, f"ZZZZ{number}").content.decode()
        assert "No partner of your section" in page
    page = ask(ready, bench_work.bench_code).content.decode()
    assert "too many codes" in page
    assert not ShareRequest.objects.filter(record__isnull=False).exists()
    ShareRequest.objects.update(asked_at=timezone.now() - timedelta(minutes=61))
    assert "Your partner is asked" in ask(ready, bench_work.bench_code).content.decode()


def test_asking_somebody_else_takes_the_question_back(
    sign_in, ask, answer, bench_work, student, ready, course, section, assignment, enrolment_of
):
    third = make_member(course, "tara.third", Role.STUDENT, section=section)
    thirds = hand_in_plan(start_work(assignment=assignment, enrolment=enrolment_of(third)))
    start_bench(actor=third, work=thirds)
    ask(ready, bench_work.bench_code)
    first = ShareRequest.objects.get()
    ask(ready, thirds.bench_code)
    page = sign_in(student).get(url_of("show-bench", bench_work)).content.decode()
    assert "asks to share" not in page
    assert "is answered" in answer(student, bench_work, "yes", first).content.decode()
    answer(third, thirds, "yes")
    assert owners(thirds.bench_record) == {third, ready.student}


@pytest.mark.parametrize("meanwhile", ["began", "full", "locked"])
def test_what_came_between_is_said(
    ask, answer, bench_work, student, ready, meanwhile, assignment
):
    ask(ready, bench_work.bench_code)
    asked = ShareRequest.objects.get()
    if meanwhile == "began":
        start_bench(actor=ready.student, work=ready)
    elif meanwhile == "full":
        assignment.group_size = 1
        assignment.save()
    else:
        close_record(actor=student, record=bench_work.bench_record)
    page = answer(student, bench_work, "yes", asked)
    assert page.status_code == 200
    assert owners(bench_work.bench_record) == {student}


def test_the_question_stands_on_the_bench_page_for_its_owners_alone(
    client, sign_in, leads_to_sign_in, ta, bench_work, student, ready, ask, outsider
):
    ask(ready, bench_work.bench_code)
    url = url_of("answer-share", bench_work)
    assert sign_in(student).get(url).status_code == 405
    assert sign_in(ta).post(url).status_code == 403
    assert sign_in(outsider).post(url).status_code == 404
    client.logout()
    assert leads_to_sign_in(url, "post")
