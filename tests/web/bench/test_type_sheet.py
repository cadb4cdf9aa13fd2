"""The printed sheet typed in twice: blind, compared field by field, stored as late entry."""

from uuid import uuid4

import pytest
from django.urls import reverse

from tests.entries import paper_bench
from workups.chemistry.plan import STEP_KINDS
from workups.documents import library_exercise
from workups.models import BenchStep, EntrySource, Reading, SheetTyping
from workups.selectors.bench import standing_readings, step_entries
from workups.services.bench import close_record
from workups.sheets.blanks import step_record
from workups.web.bench.sheet_forms import SheetForm

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
PAPER = {
    "mark--tare": "done",
    "initials--tare": "TA",
    "mark--test-washings": "done",
    "written--test-washings": "basic",
    "volume--wash-water--lower": "33",
    f"initials--tare--{TARGET}": "TA",
    f"part-use--{TARGET}": "kept for another test",
    f"part-empty--{TARGET}": "0.00",
    f"part-full--{TARGET}": "0.12",
    "added-after--1": "wash-water",
    "added-verb--1": "wash",
    "added-text--1": "20 mL of water, lower layer to acid washings",
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
    drying = reverse("record-entry", args=[bench_work.public_id, "drying", "dry"])
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


def test_initials_results_volumes_and_parts_are_typed_in_too(type_in, bench_work):
    type_in(1, **PAPER)
    page = type_in(2, **PAPER)
    record = bench_work.bench_record
    found = {(r.kind, r.flask, r.shown_value, r.text) for r in standing_readings(record)}
    assert {
        ("volume", "acid washings", "33 mL", ""),
        ("part", "kept for another test", "0.12 g", ""),
        ("tare", "", "45.30 g", "TA on the sheet: TA"),
    } <= found
    marks = step_entries(record)
    assert marks["tare"].remark == "TA on the sheet: TA"
    assert marks["test-washings"].remark == "result basic"
    assert "result basic" in page


def test_steps_without_a_mark_are_done_where_the_sheet_has_them_all_ticked(type_in, bench_work):
    """One tap for all of them, typed twice like everything else; what is marked keeps its mark."""
    exceptions = {"mark--cool": "skipped", "rest-is-done": "on"}
    type_in(1, **exceptions)
    assert "Where the two times differ" in type_in(2, **{**exceptions, "rest-is-done": ""})
    exceptions["initials--tare"] = "TA"
    type_in(1, **exceptions)
    type_in(2, **exceptions)
    marks = step_entries(bench_work.bench_record)
    steps = bench_work.bench_record.plan_revision.to_core().steps
    assert [s.id for s in steps] == list(marks)
    found = {step.id: marks[step.id].mark for step in steps}
    assert (found.pop("cool"), found.pop("wash-water")) == ("skipped", "changed")
    assert set(found.values()) == {"done"}
    assert marks["tare"].remark == "TA on the sheet: TA"


def test_what_staff_dispense_and_what_is_seldom_used_is_out_of_the_way(sign_in, student, url):
    page = sign_in(student).get(url).content.decode()
    assert "used--sulfuric_acid" not in page
    assert page.count("<details>") == 5  # of one product three, and two rows of added steps


def test_a_fold_with_something_in_it_is_open(type_in):
    page = type_in(1, **{f"part-full--{TARGET}": "0.12"})
    assert page.count("<details open>") == 1


def test_an_added_step_is_asked_for_until_it_is_recorded(type_in, sign_in, student, bench_work):
    type_in(1, **PAPER)
    page = type_in(2, **PAPER)
    assert "Wash: 20 mL of water, lower layer to acid washings" in page
    url = reverse("add-bench-step", args=[bench_work.public_id]) + "?verb=wash&after=wash-water"
    assert url.replace("&", "&amp;") in page
    added = {
        "client_token": str(uuid4()),
        "flask": "organic layer",
        "material": "water",
        "volume_mL": "20",
        "portions": "1",
        "settle_min": "2",
        "keep": "upper",
        "keep_in": "organic layer",
        "other_in": "acid washings",
        "after": "wash-water",
    }
    asked = sign_in(student).get(url, follow=True)
    assert 'value="wash-water" selected' in asked.content.decode()
    url, _ = asked.redirect_chain[-1]
    page = sign_in(student).post(url, added, follow=True).content.decode()
    assert "Added on the sheet" not in page
    assert any(e.mark == "added" for e in step_entries(bench_work.bench_record).values())


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"initials--tare": "TA"}, "Mark the step too"),
        ({"added-verb--1": "wash"}, "Type the whole row"),
        ({f"part-full--{TARGET}": "0.12"}, "A part needs where it went and both masses"),
    ],
)
def test_half_of_an_entry_is_asked_about(type_in, changes, words):
    assert words in type_in(1, **changes)
    assert not SheetTyping.objects.exists()


@pytest.mark.parametrize("kind", STEP_KINDS.values(), ids=lambda kind: kind.verb)
def test_every_blank_of_the_paper_has_its_field(kind):
    """As many fields as blanks, circles and layers; "written below" points to the weighings."""
    needed = {"flasks": ("a", "b"), "volume_mL": 5, "until_pH": 5, "keep": "upper"}
    values = {
        name: needed.get(name, "x")
        for name, field in kind.__dataclass_fields__.items()
        if field.default is field.default_factory  # neither: it has to be given
    }
    step = kind(**{**values, "id": "only"})
    form = SheetForm(bench=paper_bench(library_exercise("too-much-vinegar"), [step]))
    (part,) = [part for part in form.parts if part.title.startswith("1. ")]
    asked = [n for n in part.names if not n.startswith("mark--")]
    printed = step_record(step, 0.01)
    ticks = [tick for tick in printed.ticks if tick.startswith("fizzing")]
    assert len(asked) >= sum(map(len, (printed.blanks, printed.circles, printed.layers, ticks)))
