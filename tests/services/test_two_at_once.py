"""Two who write at the same moment, each in a transaction of their own: one waits, none is lost."""

from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from threading import Event
from time import sleep

import pytest
from django.db import connection, transaction

from tests.web.review.reports import hand_in_report
from workups.models import Remark, Review
from workups.services.audit import record_audit
from workups.services.bench import RecordIsLocked, leave_bench, start_bench
from workups.services.holding import hold
from workups.services.reports import lock_readings
from workups.services.review import (
    CommentText,
    accept_report,
    comment_report,
    release_section,
    review_to_change,
)

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.usefixtures("few_draws"),
]
# Long enough for the other one to come to the lock, where there are locks of rows.
A_MOMENT = 0.3


@pytest.fixture
def beside():
    """Run something in a thread with a connection of its own."""
    pool = ThreadPoolExecutor(1)

    def run(what):
        def closing():
            try:
                return what()
            finally:
                connection.close()

        return pool.submit(closing)

    yield run
    pool.shutdown()


def test_a_section_is_released_while_a_report_of_it_is_adjusted(
    work, classmates_work, ta, assignment, beside
):
    for each in (work, classmates_work):
        accept_report(actor=ta, work=hand_in_report(each))
    last = Review.objects.order_by("-pk").first().work
    with transaction.atomic():
        review_to_change(last)
        released = beside(lambda: release_section(actor=ta, assignment=assignment))
        sleep(A_MOMENT)
        record_audit(actor=ta, action="adjust-points", subject=last, course=last.revision.course)
    assert released.result(20).count == 2


def test_words_kept_from_two_reports_are_kept_once(work, classmates_work, ta, beside):
    said = CommentText("Dry it longer.", keep=True)
    for each in (work, classmates_work):
        hand_in_report(each)
    with transaction.atomic():
        comment_report(actor=ta, work=work, comment=said)
        other = beside(lambda: comment_report(actor=ta, work=classmates_work, comment=said))
        sleep(A_MOMENT)
    assert other.result(20).text == said.text
    assert Remark.objects.count() == 1


def test_a_partner_leaves_while_the_record_is_locked(
    bench_work, classmates_work, student, classmate, beside
):
    """Who comes first is served; the other is told, and neither stands in the other's way."""
    record = start_bench(actor=student, work=bench_work)
    classmates_work.bench_record = record
    classmates_work.save(update_fields=["bench_record"])
    locking = Event()

    def lock():
        locking.set()
        return lock_readings(actor=student, record=record)

    with transaction.atomic():
        hold(classmates_work)
        locked = beside(lock)
        assert locking.wait(10)
        sleep(A_MOMENT)
        with suppress(RecordIsLocked):
            leave_bench(actor=classmate, work=classmates_work, reason="absent")
    assert locked.result(20) == [bench_work]
