"""The bench sheet: everything a student does, writes down and must be warned of."""

import dataclasses
import datetime
import io
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from tests.sheets.conftest import make_exercise, make_plan
from tests.sheets.pdf_text import pages_of, size_mm
from workups.chemistry import plan as steps
from workups.chemistry.plan import Plan
from workups.chemistry.setup import Target
from workups.exercise.exercise import Exercise
from workups.sheets.bench_sheet import bench_sheet_html, bench_sheet_pdf, step_rows, weighing_block
from workups.sheets.blanks import mass_boxes, step_record
from workups.sheets.content import BenchSheet, SheetHead
from workups.sheets.scheme import scheme_figure
from workups.words.sentences import step_caution, step_sentence

HEAD = SheetHead(
    "Organic Laboratory II",
    "Section B",
    "K7Q2",
    datetime.date(2030, 3, 4),
    "plan 3",
    "First aid: any wall phone.",
)


@pytest.fixture
def sheet(exercise: Exercise, plan: Plan) -> BenchSheet:
    return BenchSheet(HEAD, exercise, plan)


@pytest.fixture(scope="module")
def pdf() -> bytes:
    return bench_sheet_pdf(BenchSheet(HEAD, make_exercise(), make_plan()))


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_a_plan_of_thirteen_steps_fits_on_two_pages(
    sheet: BenchSheet, paper: str, size: tuple[int, int]
) -> None:
    head = dataclasses.replace(HEAD, paper=paper)
    pdf = bench_sheet_pdf(dataclasses.replace(sheet, head=head))
    assert len(pages_of(pdf)) == 2
    assert size_mm(pdf) == size


def test_every_step_is_printed_with_its_caution(sheet: BenchSheet, pdf: bytes) -> None:
    text = " ".join(pages_of(pdf)).replace(" ", "")
    for step in sheet.plan.steps:
        assert "".join(step_sentence(step, sheet.exercise).split()) in text
        assert "".join(step_caution(step, sheet.exercise).split()) in text


def test_a_long_caution_is_printed_once_and_pointed_to_after_that(sheet: BenchSheet) -> None:
    cautions = {row.number: row.caution for row in step_rows(sheet.exercise, sheet.plan)}
    assert cautions["4"].startswith("Hold stopper and tap; invert, vent at once")
    assert cautions["6"] == "Hold stopper and tap; the rest as at step 4."
    assert cautions["3"] == cautions["10"] == "Flammable vapour: no flame, no hotplate."


def test_the_sheet_carries_the_code_on_every_page(pdf: bytes) -> None:
    assert all("code K7Q2" in page for page in pages_of(pdf))
    assert "1 of 2" in pages_of(pdf)[0]


def test_no_sheet_has_a_place_for_a_name() -> None:
    fields = {f.name for f in dataclasses.fields(SheetHead)}
    assert fields == {"course", "section", "bench_code", "date", "revision", "emergency", "paper"}


def test_the_sheet_says_what_it_is_not_and_whom_to_call(pdf: bytes) -> None:
    text = " ".join(pages_of(pdf))
    for words in (
        "Teaching material: the local safety rules, the safety data sheets and the responsible "
        "instructor come first.",
        "estimates, not safety limits",
        "is not permission to start",
        "stop and tell the TA",
        "supervised laboratory with hoods only",
        "No phone in gloved hands.",
        "First aid: any wall phone.",
        "staff dispense it",
    ):
        assert words in text


def test_tare_and_gross_have_boxes_with_unit_balance_and_what_was_on_the_pan(pdf: bytes) -> None:
    text = " ".join(pages_of(pdf))
    for words in (
        "Tare",
        "Gross 1",
        "Gross 3",
        "Balance read to 0.01 g",
        "boiling chips",
        "Flask number",
        "free-flowing clumped puddle",
        "clear cloudy",
        "aqueous waste",
        "1-hexanol 5.11 g",
    ):
        assert words in text


def test_what_staff_dispense_is_not_written_down_by_the_student(sheet: BenchSheet) -> None:
    html = bench_sheet_html(sheet)
    assert html.count("dispensed by staff") == 1


@pytest.mark.parametrize(
    ("readability", "boxes"), [(1.0, "###"), (0.1, "###.#"), (0.01, "###.##"), (0.0001, "###.####")]
)
def test_the_boxes_of_a_mass_follow_the_balance(readability: float, boxes: str) -> None:
    assert mass_boxes(readability) == boxes


def test_a_target_gets_as_many_gross_readings_as_the_plan_asks_for(
    plan: Plan, exercise: Exercise
) -> None:
    five = plan.replacing(steps.Weigh(id="s12", flask="receiver", readings=5))
    rows = weighing_block(Target("hexyl_acetate", "receiver"), five, exercise.setup).rows
    assert [row.title for row in rows] == ["Tare", *(f"Gross {n}" for n in range(1, 6))]


def test_both_layers_of_a_shake_are_boxes_and_the_kept_one_is_marked() -> None:
    wash = steps.Wash(
        id="w",
        flask="a",
        keep="lower",
        keep_in="b",
        other_in="waste",
        material="water",
        volume_mL=5,
    )
    upper, lower = step_record(wash, 0.01).layers
    assert (upper.position, upper.goes_to, upper.kept) == ("upper", "waste", False)
    assert (lower.position, lower.goes_to, lower.kept) == ("lower", "b", True)


@pytest.mark.parametrize("kind", steps.STEP_KINDS.values(), ids=lambda k: k.verb)
def test_every_kind_of_step_leaves_room_for_what_was_really_done(kind: type[steps.Step]) -> None:
    needed = {
        name: {"flasks": ("a", "b")}.get(name, 5 if name in ("volume_mL", "until_pH") else "x")
        for name, f in kind.__dataclass_fields__.items()
        if f.default is dataclasses.MISSING and f.default_factory is dataclasses.MISSING
    }
    record = step_record(kind(**{**needed, "id": "1"}), 0.01)
    silent = {"combine", "label", "transfer", "filter", "collect"}
    assert bool(record.blanks or record.ticks or record.layers) or kind.verb in silent


def test_words_of_a_student_cannot_break_the_page(sheet: BenchSheet) -> None:
    nasty = "</td><script>alert(1)</script><img src=http://127.0.0.1:1/x>"
    plan = Plan((steps.Label(id="1", flask=nasty, text=nasty, note=nasty),))
    pdf = bench_sheet_pdf(dataclasses.replace(sheet, plan=plan))
    assert "".join(nasty.split()) in "".join(pages_of(pdf)).replace(" ", "")


def test_a_sheet_without_date_emergency_and_cautions_leaves_no_holes(
    sheet: BenchSheet, exercise: Exercise
) -> None:
    html = bench_sheet_html(dataclasses.replace(sheet, head=SheetHead("Course", "Section", "A1")))
    assert "Emergency" not in html
    assert "None" not in html


def test_a_thirty_step_plan_is_still_printed_whole(sheet: BenchSheet, plan: Plan) -> None:
    wash = plan.steps[3]
    more = [dataclasses.replace(wash, id=f"more{n}") for n in range(17)]
    pages = pages_of(bench_sheet_pdf(dataclasses.replace(sheet, plan=Plan((*plan.steps, *more)))))
    assert len(pages) <= 4
    assert "Typed in" in pages[-1]


def test_an_unknown_paper_is_refused() -> None:
    with pytest.raises(ValueError, match="'A5' is not one of A4, Letter"):
        SheetHead("Course", "Section", "A1", paper="A5")


def test_the_file_is_a_tagged_pdf_with_a_title_and_no_date(pdf: bytes) -> None:
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == "Bench sheet: Too much vinegar: hexyl acetate"
    assert reader.metadata.creation_date is None
    assert "/StructTreeRoot" in reader.trailer["/Root"]


_PRINT_TWICE = """
import hashlib, sys
sys.path.insert(0, sys.argv[1]); sys.path.insert(0, sys.argv[1] + "/tests/sheets")
from conftest import make_exercise, make_plan
from workups.sheets.bench_sheet import bench_sheet_pdf
from workups.sheets.content import BenchSheet, SheetHead
sheet = BenchSheet(SheetHead("Course", "B", "K7Q2"), make_exercise(), make_plan())
print(hashlib.sha256(bench_sheet_pdf(sheet)).hexdigest())
"""


def test_two_processes_print_the_same_bytes() -> None:
    root = str(Path(__file__).resolve().parents[2])
    hashes = {
        subprocess.run(
            [sys.executable, "-c", _PRINT_TWICE, root],
            check=True,
            capture_output=True,
            text=True,
            timeout=60,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout
        for seed in ("1", "2")
    }
    assert len(hashes) == 1


def test_the_scheme_has_a_page_of_its_own_and_arms_do_not_run_through_words(
    sheet: BenchSheet
) -> None:
    scheme = scheme_figure(sheet.exercise, sheet.plan, shares_only=True)
    html = bench_sheet_html(dataclasses.replace(sheet, scheme=scheme))
    assert 'class="drawing-hollow"' in scheme.svg
    hollow = re.findall(r'<[a-z]+ [^>]*class="drawing-hollow"[^>]*>', html)
    assert hollow
    assert all('fill="#fff"' in element for element in hollow)
    pages = pages_of(bench_sheet_pdf(dataclasses.replace(sheet, scheme=scheme)))
    assert len(pages) == 3
    assert "Separation scheme" in pages[2]
