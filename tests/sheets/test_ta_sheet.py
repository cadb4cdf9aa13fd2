"""The sheet for teaching staff: layers, gas, looks and masses; for staff only, page by page."""

from dataclasses import replace

import pytest

from tests.sheets.pdf_text import pages_of
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.sheets.bundle import bundle_html, bundle_pdf
from workups.sheets.content import SheetHead
from workups.sheets.staff_content import OwnAmounts, TaSheet, TaSheetPart
from workups.sheets.ta_sheet import expected_rows, own_rows, ta_sheet_html, ta_sheet_pdf, watch_rows
from workups.words.numbers import interval, mass

HEAD = SheetHead("Organic Laboratory II", "Section B")


@pytest.fixture(scope="module")
def part():
    exercise = library_exercise("too-much-vinegar")
    return TaSheetPart(exercise, assess(exercise, seed=1, draws=20), ("K7Q2", "M3X4"))


def test_masses_are_those_of_the_assessment(part):
    (row,) = expected_rows(part)
    band = part.assessment.expected[0].class_band
    assert row.band == interval(band.low, band.high, "g")
    assert row.theoretical == "7.21\xa0g"  # 50.0 mmol of 144.21 g/mol


def test_every_step_says_what_to_see(part):
    rows = watch_rows(part)
    assert [r.number for r in rows] == list(range(1, len(part.exercise.model_plan.steps) + 1))
    seen = {row.number: " ".join(row.see) for row in rows}
    verbs = [s.verb for s in part.exercise.model_plan.steps]
    wash, dry = verbs.index("wash") + 1, verbs.index("dry") + 1
    assert "organic on top, aqueous below; the organic layer is kept" in seen[wash]
    assert "free-flowing" in seen[dry]
    assert any("gas" in words and "mL" in words for words in seen.values())


def test_own_amounts_have_a_line_for_every_code(part):
    """6.00 g of 1-hexanol instead of 5.11 g: 6.00/5.11 of the middle mass."""
    setup = part.exercise.setup
    first, *rest = setup.reaction.reagents
    assert (first.substance, first.mass_g) == ("1_hexanol", 5.11)
    reaction = replace(setup.reaction, reagents=(replace(first, mass_g=6.0), *rest))
    own = replace(part.exercise, setup=replace(setup, reaction=reaction))
    with_own = replace(part, own_amounts=(OwnAmounts("K7Q2", own), OwnAmounts("M3X4", own)))
    rows = own_rows(with_own)
    assert [row.code for row in rows] == ["K7Q2", "M3X4"]
    assert rows[0].amounts == ("1-hexanol 6\xa0g",)
    middle = part.assessment.expected[0].class_band.nominal * 6.0 / 5.11
    assert rows[0].middle == (f"hexyl acetate {mass(middle, 0.01)}",)
    html = ta_sheet_html(TaSheet(HEAD, "Too much vinegar", (with_own,)))
    assert "Amounts of their own" in html


def test_the_printed_sheet_is_marked_for_staff_on_every_page(part):
    pages = pages_of(ta_sheet_pdf(TaSheet(HEAD, "Too much vinegar", (part,))))
    assert all("TA sheet, staff only" in page for page in pages)
    text = " ".join(pages)
    assert "Bench codes: K7Q2, M3X4" in text
    assert expected_rows(part)[0].band.replace("\xa0", " ") in text


def test_a_bundle_has_every_sheet_on_pages_of_its_own(part):
    page = ta_sheet_html(TaSheet(HEAD, "Too much vinegar", (part,)))
    alone = len(pages_of(bundle_pdf([page])))
    assert len(pages_of(bundle_pdf([page, page]))) == 2 * alone
    with pytest.raises(ValueError, match="no sheet"):
        bundle_html([])
