"""`lock_overdue` brings in what the deadline passed over, as often as a timer likes."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from workups.models import Review
from workups.services.courses import set_archived


def run(*arguments):
    out = StringIO()
    call_command("lock_overdue", *arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def overdue_work(bench_work, assignment):
    past = timezone.now() - timedelta(minutes=1)
    assignment.plan_due = assignment.report_due = past
    assignment.save()
    return bench_work


def test_records_before_their_date_are_left_open(bench_work):
    assert run() == ""
    bench_work.bench_record.refresh_from_db()
    assert bench_work.bench_record.locked_at is None


def test_overdue_records_are_locked_and_queued_once(overdue_work, assignment):
    assert run() == f"{assignment}: 1 record locked and assessed\n"
    overdue_work.bench_record.refresh_from_db()
    assert overdue_work.bench_record.locked_at is not None
    assert overdue_work.bench_record.locked_by is None
    assert Review.objects.get(work=overdue_work).state == Review.State.WAITING
    assert run() == ""


def test_an_archived_course_is_left_as_it_is(overdue_work, course, instructor):
    set_archived(actor=instructor, course=course, archived=True)
    assert run() == ""
    overdue_work.bench_record.refresh_from_db()
    assert overdue_work.bench_record.locked_at is None


def test_what_cannot_be_assessed_is_named_and_fails_the_command(
    overdue_work, revision, expected_failures
):
    """Named once; with `--again` it is tried anew, once whatever was damaged is mended."""
    whole = revision.document
    revision.document = "damaged"
    revision.save()
    with pytest.raises(CommandError, match="Too much vinegar") as said:
        run()
    assert overdue_work.bench_code in str(said.value)
    assert run() == ""
    revision.document = whole
    revision.save()
    assert "1 report assessed late" in run("--again")
    overdue_work.refresh_from_db()
    assert overdue_work.is_assessed
