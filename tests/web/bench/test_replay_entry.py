"""What a device with a queue asks and sends, and the page it keeps."""

import re
from uuid import uuid4

import pytest
from django.urls import reverse

from workups.models import BenchStep, Reading
from workups.services.bench import close_record
from workups.web.bench.entries import KINDS

TARGET = "hexyl_acetate"
SENT = {
    "mark": ("cool", {"mark": "done"}),
    "change": ("cool", {"flask": "reaction flask", "to_C": "5"}),
    "add": ("stand", {"flask": "reaction flask", "minutes": "5"}),
    "weighing": (TARGET, {"kind": "tare", "mass": "45.30"}),
    "part": (TARGET, {"use": "used in a test", "empty": "0.00", "full": "0.12"}),
    "witness": (TARGET, {"witness_kind": "odour", "text": "fruit"}),
    "drying": ("dry", {"agent_mass": "3.0", "agent_look": "free-flowing"}),
    "volume": ("extract", {"flask": "organic layer", "volume": "40"}),
    "reagents": ("", {"1_hexanol": "5.02"}),
}


@pytest.fixture
def send(sign_in, student, bench_work):
    def post(entry, about="", **data):
        data.setdefault("client_token", str(uuid4()))
        url = reverse("replay-entry", args=[bench_work.public_id])
        sent = {**data, "queue-entry": entry, "queue-about": about}
        return sign_in(student).post(url, sent)

    return post


def stored():
    return Reading.objects.count() + BenchStep.objects.count()


@pytest.mark.parametrize("entry", SENT)
def test_every_kind_of_entry_is_stored_once_however_often_it_is_sent(send, entry):
    about, data = SENT[entry]
    token = str(uuid4())
    first = send(entry, about, client_token=token, **data).json()
    assert first["outcome"] == "saved", first
    count = stored()
    assert count == len(first["tokens"]) > 0
    assert send(entry, about, client_token=token, **data).json() == {**first, "was_there": True}
    assert stored() == count


def test_corrections_are_stored_once_too(send):
    send("weighing", target=TARGET, kind="tare", mass="45.30")
    about = str(Reading.objects.get().pk)
    data = {"target": TARGET, "kind": "tare", "mass": "45.33", "reason": "misread"}
    token = str(uuid4())
    assert send("correct", about, client_token=token, **data).json()["outcome"] == "saved"
    assert send("correct", about, client_token=token, **data).json()["outcome"] == "saved"
    newest = str(Reading.objects.last().pk)
    assert send("strike", newest, reason="wrong flask").json()["outcome"] == "saved"
    assert Reading.objects.count() == 3
    assert {*SENT, "strike"} == set(KINDS)


@pytest.mark.parametrize(
    ("entry", "about", "data", "words"),
    [
        ("weighing", TARGET, {"kind": "tare", "mass": "45.3"}, "2 decimals"),
        ("drying", "dry", {}, "at least one field"),
        ("change", "cool", {"flask": "reaction flask", "to_C": "x"}, "A number is expected"),
        ("mark", "cool", {"mark": "burnt"}, "burnt"),
        ("mark", "cool", {"mark": "done", "client_token": "none"}, "valid UUID"),
        ("nonsense", "", {}, "does not know"),
    ],
)
def test_what_cannot_be_read_is_said_in_words_and_not_stored(send, entry, about, data, words):
    answer = send(entry, about, **data).json()
    assert answer["outcome"] == "unreadable"
    assert words in answer["words"]
    assert stored() == 0


@pytest.mark.parametrize(
    ("entry", "about", "data"),
    [
        ("mark", "nothing", {"mark": "done"}),
        ("change", "nothing", {}),
        ("add", "nothing", {}),
        ("drying", "cool", {"agent_mass": "3"}),
        ("weighing", "nothing", {"kind": "tare", "mass": "45.30"}),
        ("weighing", "", {"target": "nothing", "kind": "tare", "mass": "45.30"}),
        ("correct", "999", {}),
        ("strike", "x", {"reason": "y"}),
    ],
)
def test_what_is_not_there(send, entry, about, data):
    assert send(entry, about, **data).status_code == 404


def test_an_absurd_clock_refuses_no_reading(send):
    data = SENT["weighing"][1]
    sent = send("weighing", TARGET, device_at="yesterday", device_offset_s="9" * 30, **data)
    assert sent.json()["outcome"] == "saved"
    assert Reading.objects.get().device_at is None


def test_a_locked_record_says_who_locked_it(send, bench_work, ta):
    close_record(actor=ta, record=bench_work.bench_record)
    answer = send("weighing", TARGET, **SENT["weighing"][1]).json()
    assert answer["outcome"] == "locked"
    assert "Tariq Assistant" in answer["words"]


def test_the_connection_tells_the_time_and_whose_it_is(sign_in, student, bench_work):
    url = reverse("check-connection", args=[bench_work.public_id])
    said = sign_in(student).get(url).json()
    assert said["person"] == str(student.public_id)
    assert said["now_ms"] > 1_600_000_000_000
    assert said["csrf_token"]


@pytest.mark.parametrize("name", ["check-connection", "show-offline-bench", "replay-entry"])
def test_nobody_else_gets_through(
    sign_in, leads_to_sign_in, classmate, ta, outsider, bench_work, name
):
    url = reverse(name, args=[bench_work.public_id])
    method = "post" if name == "replay-entry" else "get"
    assert leads_to_sign_in(url, method)
    for person, status in ((classmate, 404), (outsider, 404), (ta, 403)):
        assert getattr(sign_in(person), method)(url).status_code == status
    other = "get" if method == "post" else "post"
    assert getattr(sign_in(classmate), other)(url).status_code == 405


def test_the_kept_page_has_a_form_for_everything(sign_in, student, bench_work, send):
    send("weighing", TARGET, **SENT["weighing"][1])
    url = reverse("show-offline-bench", args=[bench_work.public_id])
    page = sign_in(student).get(url).content.decode()
    on_the_bench_page = {"weighing", "part", "witness"}
    for entry in {*KINDS, "correct"} - on_the_bench_page:
        assert f'data-entry="{entry}"' in page


@pytest.mark.parametrize("name", ["show-offline-bench", "show-bench", "correct"])
def test_no_two_fields_of_a_page_have_one_id(sign_in, student, bench_work, send, name):
    send("weighing", TARGET, **SENT["weighing"][1])
    send("drying", "dry", **SENT["drying"][1])
    args = [bench_work.public_id]
    if name == "correct":
        name, args = "record-entry", [*args, "correct", Reading.objects.first().pk]
    page = sign_in(student).get(reverse(name, args=args)).content.decode()
    ids = re.findall(r' id="([^"]+)"', page)
    assert sorted(set(ids)) == sorted(ids)


def test_the_kept_page_of_a_locked_record_has_no_forms(sign_in, student, bench_work):
    close_record(actor=student, record=bench_work.bench_record)
    url = reverse("show-offline-bench", args=[bench_work.public_id])
    page = sign_in(student).get(url).content.decode()
    assert "data-entry" not in page
    assert "locked" in page


def test_the_worker_comes_from_the_root_and_is_renewed_with_its_files(client, tmp_path, settings):
    response = client.get("/service-worker.js")
    assert response.headers["Content-Type"].startswith("text/javascript")
    assert response.headers["Cache-Control"] == "no-cache"
    assert response.headers["Service-Worker-Allowed"] == "/"
    script = response.content.decode()
    assert "self.KEPT" in script
    assert "css/labcourse.css" in script
    (tmp_path / "css").mkdir()
    (tmp_path / "css" / "labcourse.css").write_text("body {}")
    settings.STATICFILES_DIRS = [tmp_path, *settings.STATICFILES_DIRS]
    assert client.get("/service-worker.js").content.decode() != script
