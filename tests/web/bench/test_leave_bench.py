"""Groups of three, and partners who part: one was absent, or works with somebody else now."""

import pytest
from django.urls import reverse

from tests.conftest import make_member
from workups.models import AuditEntry, Role
from workups.services.bench import RecordIsFull, close_record, join_bench
from workups.services.works import start_work


@pytest.fixture
def shared(bench_work, classmates_work, classmate):
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    return bench_work.bench_record


def url_of(name, work):
    return reverse(name, args=[work.public_id])


def leave(client, name, work, **sent):
    sent.setdefault("reason", "absent")
    return client.post(url_of(name, work), sent, follow=True).content.decode()


def test_three_share_one_record_and_no_fourth(shared, assignment, course, section, enrolment_of):
    assignment.group_size = 3
    assignment.save()
    third, fourth = (
        make_member(course, f"{name}.student", Role.STUDENT, section=section)
        for name in ("sanna", "silas")
    )
    works = [start_work(assignment=assignment, enrolment=enrolment_of(p)) for p in (third, fourth)]
    join_bench(actor=third, work=works[0], record=shared)
    assert shared.works.count() == 3
    with pytest.raises(RecordIsFull):
        join_bench(actor=fourth, work=works[1], record=shared)


def test_a_student_leaves_and_the_record_stays_with_the_other(
    sign_in, shared, classmates_work, classmate, bench_work
):
    client = sign_in(classmate)
    assert url_of("leave-bench", classmates_work) in client.get(
        url_of("show-bench", classmates_work)
    ).content.decode()
    assert "Parted" in leave(client, "leave-bench", classmates_work)
    classmates_work.refresh_from_db()
    assert classmates_work.bench_record is None
    assert list(shared.works.all()) == [bench_work]
    assert AuditEntry.objects.filter(action="leave-bench").exists()


def test_a_ta_takes_out_who_was_absent(sign_in, shared, ta, classmates_work, assignment):
    client = sign_in(ta)
    lab = client.get(reverse("show-lab", args=[assignment.public_id])).content.decode()
    assert url_of("part-partner", classmates_work) in lab
    assert "Parted" in leave(client, "part-partner", classmates_work)
    assert shared.works.count() == 1


def test_a_reason_is_asked_for(sign_in, shared, student, bench_work):
    assert "This field is required" in leave(
        sign_in(student), "leave-bench", bench_work, reason=""
    )
    assert shared.works.count() == 2


def test_a_record_is_not_left_alone_nor_after_the_lock(
    sign_in, bench_work, classmates_work, student, classmate
):
    client = sign_in(student)
    assert "nobody to part from" in client.get(url_of("leave-bench", bench_work)).content.decode()
    leave(client, "leave-bench", bench_work)
    assert bench_work.bench_record.works.count() == 1
    join_bench(actor=classmate, work=classmates_work, record=bench_work.bench_record)
    close_record(actor=student, record=bench_work.bench_record)
    assert "locked" in leave(client, "leave-bench", bench_work)
    assert bench_work.bench_record.works.count() == 2
