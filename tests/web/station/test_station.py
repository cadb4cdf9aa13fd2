"""The shared station: one record's weighings, no names, and out again by itself."""

from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.urls import reverse
from django.utils import timezone

from workups.models import EntrySource, Reading
from workups.services.bench import close_record
from workups.services.courses import set_archived
from workups.services.station import set_station_pin

ENTER, WEIGHING = reverse("enter-station"), reverse("record-at-station")
TARGET = "hexyl_acetate"


@pytest.fixture
def with_pin(bench_work, student):
    set_station_pin(actor=student, work=bench_work, pin="4711")
    return bench_work


@pytest.fixture
def seated(client, with_pin):
    """The test's client, at the station with the student's code and PIN."""
    code = f" {with_pin.bench_code.lower()} "
    response = client.post(ENTER, {"code": code, "pin": "4711", "idle": "2"})
    assert response.url == WEIGHING
    return client


def weigh(client, entry="weighing", **data):
    about = {"queue-entry": entry, "queue-about": TARGET, "client_token": str(uuid4())}
    return client.post(WEIGHING, {**about, "kind": "tare", "mass": "45.30", **data})


def test_a_weighing_is_stored_for_the_student_and_marked(seated, student):
    assert weigh(seated).url == WEIGHING
    reading = Reading.objects.get()
    assert (reading.by, reading.source) == (student, EntrySource.STATION)
    page = seated.get(WEIGHING).content.decode()
    assert "45.30" in page


def test_the_page_names_nobody(seated, student):
    weigh(seated)
    page = seated.get(WEIGHING).content.decode()
    assert student.display_name not in page
    assert student.sign_in not in page


def test_a_part_of_a_divided_sample_is_weighed_there_too(seated):
    part = {"use": "to a partner", "empty": "20.10", "full": "20.00"}
    assert "not above the empty vial" in weigh(seated, "part", **part).content.decode()
    assert weigh(seated, "part", **{**part, "full": "23.00"}).url == WEIGHING
    made = Reading.objects.get()
    assert (made.kind, made.shown_value, made.source) == ("part", "2.90 g", "station")
    assert "Taken out before" in seated.get(WEIGHING).content.decode()


def test_a_slip_stays_in_its_field(seated):
    response = weigh(seated, mass="45.3")
    assert "write all of them" in response.content.decode()
    assert not Reading.objects.exists()


def test_the_same_form_twice_counts_once(seated):
    token = str(uuid4())
    weigh(seated, client_token=token)
    weigh(seated, client_token=token)
    assert Reading.objects.count() == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"pin": "0000"}, "do not belong together"),
        ({"code": "QQQQQ"}, "do not belong together"),
        ({"pin": "12"}, "4 to 8 digits"),
        ({"pin": ""}, "required"),
    ],
)
def test_what_does_not_fit(client, with_pin, data, words):
    sent = {"code": with_pin.bench_code, "pin": "4711", "idle": "2", **data}
    assert words in client.post(ENTER, sent).content.decode()
    assert client.get(WEIGHING).url == ENTER


def test_too_many_tries(client, with_pin):
    for _ in range(6):
        sent = {"code": with_pin.bench_code, "pin": "0000", "idle": "2"}
        page = client.post(ENTER, sent).content.decode()
    assert "tried too often" in page


def test_it_ends_by_itself_unless_somebody_stays(client, with_pin):
    start = timezone.now()
    with time_machine.travel(start, tick=False) as clock:
        client.post(ENTER, {"code": with_pin.bench_code, "pin": "4711", "idle": "2"})
        clock.move_to(start + timedelta(seconds=100))
        assert client.post(reverse("stay-at-station")).url == WEIGHING
        clock.move_to(start + timedelta(seconds=200))
        stay = client.post(reverse("stay-at-station"), headers={"Accept": "text/plain"})
        assert stay.status_code == 204
        clock.move_to(start + timedelta(seconds=321))
        assert client.get(WEIGHING).url == ENTER
        assert weigh(client).url == ENTER
    assert not Reading.objects.exists()


def test_without_script_the_page_leaves_by_itself_in_time(seated):
    page = seated.get(WEIGHING).content.decode()
    assert f'<noscript><meta http-equiv="refresh" content="120; url={ENTER}"></noscript>' in page


@pytest.mark.parametrize("how", ["leave", "look"])
def test_the_next_one_finds_nothing(seated, how):
    if how == "leave":
        assert seated.post(reverse("leave-station")).url == ENTER
    else:
        seated.get(ENTER)
    assert seated.get(WEIGHING).url == ENTER
    assert seated.post(reverse("stay-at-station")).url == ENTER


def test_a_new_pin_ends_it(seated, with_pin, student):
    set_station_pin(actor=student, work=with_pin, pin="2580")
    assert seated.get(WEIGHING).url == ENTER


def test_it_opens_nothing_else(seated, with_pin, course):
    for name, args in (
        ("show-bench", [with_pin.public_id]),
        ("show-work", [with_pin.public_id]),
        ("show-course", [course.public_id]),
    ):
        assert seated.get(reverse(name, args=args)).url.startswith(reverse("sign-in"))


def test_somebody_signed_in_on_the_same_browser_stays_so(seated, ta, course):
    seated.force_login(ta, backend="django.contrib.auth.backends.ModelBackend")
    seated.post(reverse("leave-station"))
    url = reverse("show-course", args=[course.public_id])
    assert seated.get(url).status_code == 200


def test_after_the_lock_or_in_an_archived_course_nothing_is_added(
    seated, with_pin, instructor, course
):
    set_archived(actor=instructor, course=course, archived=True)
    assert "nothing can be added" in weigh(seated).content.decode()
    set_archived(actor=instructor, course=course, archived=False)
    close_record(actor=instructor, record=with_pin.bench_record)
    assert "nothing can be added" in weigh(seated).content.decode()
    assert not Reading.objects.exists()


def test_without_a_record_it_says_what_to_do(client, submitted_work, student):
    set_station_pin(actor=student, work=submitted_work, pin="4711")
    client.post(ENTER, {"code": submitted_work.bench_code, "pin": "4711", "idle": "2"})
    assert "No bench record is begun" in client.get(WEIGHING).content.decode()
    assert "No bench record is begun" in weigh(client).content.decode()


def test_methods(client):
    assert client.delete(ENTER).status_code == client.delete(WEIGHING).status_code == 405
    for name in ("stay-at-station", "leave-station"):
        assert client.get(reverse(name)).status_code == 405


def test_a_student_sets_and_removes_the_pin(sign_in, student, work):
    url = reverse("set-station-pin", args=[work.public_id])
    client = sign_in(student)
    assert client.get(url).status_code == 200
    for sent, words in (
        ({"pin": "4711", "again": "4712"}, "not the same"),
        ({"pin": "1111", "again": "1111"}, "Take another PIN"),
        ({"pin": "ab", "again": "ab"}, "4 to 8 digits"),
    ):
        assert words in client.post(url, sent).content.decode()
    client.post(url, {"pin": "4711", "again": "4711"})
    work.refresh_from_db()
    assert work.station_pin
    client.post(url, {"remove": "yes"})
    work.refresh_from_db()
    assert not work.station_pin


def test_nobody_else_sets_it(sign_in, leads_to_sign_in, work, classmate, ta, outsider):
    url = reverse("set-station-pin", args=[work.public_id])
    assert leads_to_sign_in(url)
    for person, status in ((classmate, 404), (outsider, 404), (ta, 403)):
        assert sign_in(person).post(url, {"pin": "4711", "again": "4711"}).status_code == status
    assert sign_in(classmate).delete(url).status_code == 405
