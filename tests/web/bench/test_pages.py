"""Every page of the bench: who gets it, and with which methods."""

from uuid import uuid4

import pytest
from django.urls import reverse

from workups.models import BenchStep, Reading
from workups.services.bench import close_record
from workups.services.courses import set_archived

TARGET = "hexyl_acetate"
READ = [
    ("show-bench", ()),
    ("add-bench-step", ()),
    ("record-entry", ("mark", "cool")),
    ("record-entry", ("change", "cool")),
    ("record-entry", ("drying", "dry")),
    ("record-entry", ("volume", "extract")),
    ("record-entry", ("reagents",)),
    ("record-entry", ("weighing", TARGET)),
    ("record-entry", ("witness", TARGET)),
    ("record-entry", ("add", "stand")),
    ("lock-readings", ()),
]
LOOKED_AT = ("show-bench", "add-bench-step")
POST = [
    ("start-bench", ()),
    ("join-bench", ()),
]
NOT_THERE = [
    ("record-entry", ("change", "nothing")),
    ("record-entry", ("mark", "nothing")),
    ("record-entry", ("drying", "cool")),
    ("record-entry", ("volume", "cool")),
    ("record-entry", ("weighing", "water")),
    ("record-entry", ("correct", 999)),
    ("record-entry", ("strike", "x")),
    ("record-entry", ("nonsense",)),
    ("record-entry", ("add", "nothing")),
]


def url_of(name, work, args=()):
    return reverse(name, args=[work.public_id, *args])


@pytest.mark.parametrize(("name", "args"), READ)
def test_a_student_gets_every_page_of_the_own_record(sign_in, student, bench_work, name, args):
    assert sign_in(student).get(url_of(name, bench_work, args)).status_code == 200


@pytest.mark.parametrize("who", ["outsider", "classmate"])
@pytest.mark.parametrize(("name", "args"), READ + POST)
def test_others_find_nothing(sign_in, bench_work, name, args, who, request):
    client = sign_in(request.getfixturevalue(who))
    url = url_of(name, bench_work, args)
    assert {client.get(url).status_code, client.post(url).status_code} <= {404, 405}


@pytest.mark.parametrize("who", ["ta", "instructor", "stockroom"])
@pytest.mark.parametrize(("name", "args"), READ)
def test_staff_have_pages_of_their_own(sign_in, bench_work, name, args, who, request):
    person = request.getfixturevalue(who)
    assert sign_in(person).get(url_of(name, bench_work, args)).status_code == 403


@pytest.mark.parametrize(("name", "args"), READ)
def test_a_signed_out_visitor_signs_in_first(leads_to_sign_in, bench_work, name, args):
    assert leads_to_sign_in(url_of(name, bench_work, args))


@pytest.mark.parametrize(("name", "args"), READ + POST)
def test_a_method_that_makes_no_sense_is_refused(sign_in, student, bench_work, name, args):
    client = sign_in(student)
    assert client.delete(url_of(name, bench_work, args)).status_code == 405
    if (name, args) in POST:
        assert client.get(url_of(name, bench_work, args)).status_code == 405


@pytest.mark.parametrize(("name", "args"), NOT_THERE)
def test_steps_and_readings_that_are_not_there(sign_in, student, bench_work, name, args):
    assert sign_in(student).post(url_of(name, bench_work, args)).status_code == 404


@pytest.mark.parametrize(("name", "args"), [p for p in READ if p[0] != "show-bench"])
def test_without_a_record_there_is_nothing_to_record_in(
    sign_in, student, planned_work, name, args
):
    assert sign_in(student).get(url_of(name, planned_work, args)).status_code == 404


@pytest.mark.parametrize(("name", "args"), [p for p in [*READ, *POST] if p[0] not in LOOKED_AT])
def test_an_archived_course_takes_no_changes(
    sign_in, student, bench_work, instructor, course, name, args
):
    set_archived(actor=instructor, course=course, archived=True)
    assert sign_in(student).post(url_of(name, bench_work, args)).status_code == 403


@pytest.mark.parametrize(
    ("args", "data"),
    [
        (("mark", "cool"), {"mark": "done"}),
        (("change", "cool"), {"flask": "reaction flask", "to_C": "5"}),
        (("drying", "dry"), {"agent_mass": "3.0"}),
        (("volume", "extract"), {"flask": "organic layer", "volume": "40"}),
        (("reagents",), {"1_hexanol": "5.02"}),
        (("weighing", TARGET), {"kind": "tare", "mass": "45.30"}),
        (("witness", TARGET), {"witness_kind": "odour", "text": "fruit"}),
    ],
)
def test_after_the_lock_nothing_is_added(sign_in, student, bench_work, args, data):
    close_record(actor=student, record=bench_work.bench_record)
    url = url_of("record-entry", bench_work, args)
    page = sign_in(student).post(url, {**data, "client_token": uuid4()}, follow=True)
    assert "The readings were locked" in page.content.decode()
    assert not Reading.objects.exists()
    assert not BenchStep.objects.exists()
