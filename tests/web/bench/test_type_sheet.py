"""The printed sheet typed in twice: blind, compared field by field, stored as late entry."""

from uuid import uuid4

import pytest
from django.urls import reverse

from workups.models import BenchStep, EntrySource, Reading, SheetTyping
from workups.selectors.bench import standing_readings, step_entries
from workups.services.bench import close_record

TARGET = "hexyl_acetate"
SHEET = {
    "used--1_hexanol": "5.02",
    "mark--cool": "done",
    "mark--wash-water": "changed",
    "changed--wash-water--volume_mL": "30",
    "agent-mass--dry": "3.5",
    "agent-look--dry": "free-flowing",
    f"tare--{TARGET}": "45.30",
    f"pan--tare--{TARGET}": ["flask"],
    f"gross-1--{TARGET}": "51.24",
    f"flask--{TARGET}": "7",
    f"sign--odour--{TARGET}": "fruit",
}


@pytest.fixture
def url(bench_work):
    return reverse("type-sheet", args=[bench_work.public_id])


@pytest.fixture
def type_in(sign_in, student, url):
    def send(turn="", **changes):
        data = {"client_token": str(uuid4()), "turn": str(turn), **SHEET, **changes}
        return sign_in(student).post(url, data, follow=True).content.decode()

    return send


def stored():
    return Reading.objects.count() + BenchStep.objects.count()


def test_both_times_alike_is_stored_as_late_entry(type_in, bench_work, student):
    assert "Second time" in type_in(1)
    assert stored() == 0
    type_in(2)
    record = bench_work.bench_record
    found = {(r.kind, r.shown_value) for r in standing_readings(record)}
    assert found == {
        ("reagent", "5.02 g"),
        ("agent mass", "3.5 g"),
        ("agent look", "free-flowing"),
        ("tare", "45.30 g"),
        ("gross", "51.24 g"),
        ("witness", "fruit"),
    }
    assert {r.source for r in Reading.objects.all()} == {EntrySource.SHEET}
    marks = step_entries(record)
    assert {i: (e.mark, e.source) for i, e in marks.items()} == {
        "cool": ("done", "sheet"),
        "wash-water": ("changed", "sheet"),
    }
    assert marks["wash-water"].data["volume_mL"] == 30
    gross = Reading.objects.get(kind="gross")
    assert (gross.flask_number, gross.by) == ("7", student)


def test_the_second_time_is_blind(type_in, sign_in, student, url):
    before = sign_in(student).get(url).content.decode()
    type_in(1)
    page = sign_in(student).get(url).content.decode()
    for typed in ("45.30", "51.24", "fruit"):
        assert typed not in page
    assert page.count("checked") == before.count("checked")


def test_a_comma_is_no_difference_but_a_missing_digit_is_an_error(type_in):
    type_in(1)
    page = type_in(2, **{f"tare--{TARGET}": "45.3"})
    assert "write all of them" in page
    type_in(2, **{f"tare--{TARGET}": "45,30"})
    assert SheetTyping.objects.filter(stored=True).exists()


def test_a_difference_is_shown_and_decided_from_the_paper(type_in, sign_in, student, url):
    type_in(1)
    page = type_in(2, **{f"gross-1--{TARGET}": "51.42", f"pan--tare--{TARGET}": []})
    assert "51.24" in page
    assert "51.42" in page
    assert "45.30" not in page
    assert stored() == 0
    decided = {
        "client_token": str(uuid4()),
        "decided": [f"gross-1--{TARGET}", f"pan--tare--{TARGET}"],
        f"gross-1--{TARGET}": "51.24",
        f"pan--tare--{TARGET}": ["flask", "label"],
    }
    sign_in(student).post(url, decided)
    assert Reading.objects.get(kind="gross").shown_value == "51.24 g"
    assert Reading.objects.get(kind="tare").on_pan == ["flask", "label"]
    kept = [row.data[f"gross-1--{TARGET}"] for row in SheetTyping.objects.all()]
    assert kept == ["51.24", "51.42", "51.24"]


def test_sending_the_second_time_twice_stores_once(type_in):
    type_in(1)
    token = str(uuid4())
    type_in(2, client_token=token)
    count = stored()
    type_in(2, client_token=token)
    assert stored() == count
    assert SheetTyping.objects.count() == 2


def test_beginning_again_keeps_what_was_typed(type_in, sign_in, student, url):
    type_in(1, **{f"tare--{TARGET}": "44.30"})
    assert "First time" in sign_in(student).post(url, {"again": "yes"}).content.decode()
    type_in(1)
    type_in(2)
    assert SheetTyping.objects.count() == 3
    assert Reading.objects.get(kind="tare").shown_value == "45.30 g"


def test_what_was_recorded_before_is_superseded_and_stays_readable(
    type_in, sign_in, student, bench_work
):
    drying = reverse("record-drying", args=[bench_work.public_id, "dry"])
    sign_in(student).post(drying, {"client_token": str(uuid4()), "agent_mass": "3.0"})
    type_in(1)
    type_in(2)
    masses = Reading.objects.filter(kind="agent mass").order_by("pk")
    assert [r.shown_value for r in masses] == ["3.0 g", "3.5 g"]
    assert masses[1].supersedes == masses[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"changed--wash-water--volume_mL": ""}, "Type what was really used"),
        ({"agent-mass--dry": "x"}, "A number is expected"),
        ({**dict.fromkeys(SHEET, ""), f"pan--tare--{TARGET}": []}, "Nothing is filled in"),
    ],
)
def test_what_cannot_be_stored_is_not_kept(type_in, changes, words):
    assert words in type_in(1, **changes)
    assert not SheetTyping.objects.exists()


def test_who_gets_it(sign_in, leads_to_sign_in, url, student, classmate, ta, outsider):
    assert leads_to_sign_in(url)
    assert sign_in(student).get(url).status_code == 200
    assert sign_in(student).delete(url).status_code == 405
    for person, status in ((classmate, 404), (outsider, 404), (ta, 403)):
        assert sign_in(person).get(url).status_code == status


def test_after_the_lock_nothing_is_typed_in(type_in, bench_work, ta):
    close_record(actor=ta, record=bench_work.bench_record)
    assert "The readings are locked" in type_in(1)
    assert not SheetTyping.objects.exists()
