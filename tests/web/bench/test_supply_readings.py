"""Data supplied after an accident: in the record at once, marked, with the reason."""

from uuid import uuid4

import pytest
from django.urls import reverse

from workups.models import AuditEntry, EntrySource, Reading
from workups.selectors.bench import standing_readings, weighings_of
from workups.services.bench import close_record
from workups.services.courses import set_archived

TARGET = "hexyl_acetate"
SENT = {f"tare--{TARGET}": "45.30", f"gross--{TARGET}": "51.24", "reason": "Flask dropped."}


@pytest.fixture
def supply(sign_in, ta):
    def send(work, person=ta, **changes):
        url = reverse("supply-readings", args=[work.public_id])
        data = {"client_token": str(uuid4()), **SENT, **changes}
        return sign_in(person).post(url, data)

    return send


def test_a_ta_supplies_masses_that_are_marked_and_audited(supply, bench_work, ta):
    token = str(uuid4())
    for _ in range(2):
        assert supply(bench_work, client_token=token).status_code == 302
    found = Reading.objects.all()
    assert {(r.source, r.by, r.text) for r in found} == {
        (EntrySource.SUPPLIED, ta, "Flask dropped.")
    }
    weighings = weighings_of(standing_readings(bench_work.bench_record), TARGET)
    assert str(weighings.by_difference_g) == "5.940000"
    entry = AuditEntry.objects.get(action="supply-readings")
    assert entry.details["reason"] == "Flask dropped."


def test_the_student_sees_that_they_are_supplied(supply, bench_work, sign_in, student):
    supply(bench_work)
    page = sign_in(student).get(reverse("show-bench", args=[bench_work.public_id]))
    text = page.content.decode()
    assert "supplied by the instructor" in text
    assert "Flask dropped." in text


def test_what_was_weighed_before_stays_and_the_supplied_counts(
    supply, bench_work, sign_in, student
):
    weigh = reverse("record-entry", args=[bench_work.public_id, "weighing", TARGET])
    spilled = {"target": TARGET, "kind": "gross", "mass": "46.00", "client_token": uuid4()}
    sign_in(student).post(weigh, spilled)
    supply(bench_work)
    weighings = weighings_of(standing_readings(bench_work.bench_record), TARGET)
    assert [r.shown_value for r in weighings.grosses] == ["46.00 g", "51.24 g"]
    assert str(weighings.by_difference_g) == "5.940000"


def test_a_record_is_begun_where_there_is_none(supply, submitted_work, instructor):
    supply(submitted_work, instructor)
    submitted_work.refresh_from_db()
    assert submitted_work.bench_record.readings.count() == 2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({f"tare--{TARGET}": "45.3"}, "write all of them"),
        ({f"gross--{TARGET}": "44.00"}, "not above the tare"),
        ({f"gross--{TARGET}": ""}, "required"),
        ({"reason": ""}, "required"),
    ],
)
def test_slips_stay_in_the_form(supply, bench_work, changes, words):
    assert words in supply(bench_work, **changes).content.decode()
    assert not Reading.objects.exists()


def test_without_a_plan_or_after_the_lock_it_says_what_to_do(
    supply, classmates_work, bench_work, ta
):
    assert "No plan is handed in" in supply(classmates_work).content.decode()
    close_record(actor=ta, record=bench_work.bench_record)
    assert "Return the report first" in supply(bench_work).content.decode()
    assert not Reading.objects.exists()


def test_who_may(
    supply, sign_in, leads_to_sign_in, bench_work, student, outsider, stockroom, course, instructor
):
    url = reverse("supply-readings", args=[bench_work.public_id])
    assert leads_to_sign_in(url)
    for person, status in ((student, 403), (stockroom, 403), (outsider, 404)):
        assert supply(bench_work, person).status_code == status
    assert sign_in(instructor).get(url).status_code == 200
    assert sign_in(instructor).delete(url).status_code == 405
    set_archived(actor=instructor, course=course, archived=True)
    assert supply(bench_work, instructor).status_code == 403
    assert not Reading.objects.exists()
