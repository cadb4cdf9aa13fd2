"""Waste labels: one for each container, with what should go in and what it does to people."""

import pytest

from tests.sheets.pdf_text import pages_of
from workups.documents import library_exercise
from workups.sheets.content import SheetHead
from workups.sheets.prep_lines import PrepTerms, StockGroup, prep_lines
from workups.sheets.render import pdf_of
from workups.sheets.waste_labels import waste_labels, waste_labels_html

HEAD = SheetHead("Organic Laboratory II", "Section B")


@pytest.fixture(scope="module")
def sheet():
    exercise = library_exercise("bottom-layer")
    return prep_lines([StockGroup(exercise, 24)], 24, PrepTerms(0.2))


def test_every_container_of_the_prep_sheet_gets_its_label(sheet):
    titles = [line.waste.title for line, _ in waste_labels(sheet)]
    for line in sheet.waste:
        assert titles.count(line.waste.title) == (line.waste.containers[0] or 1)


def test_what_was_stripped_off_brings_its_hazards(sheet):
    """Dichloromethane: H315, H319, H336, H351 by its row in the table of substances."""
    marks = {line.waste.stream: m for line, m in waste_labels(sheet)}["halogenated"]
    assert marks.signal == "Warning"
    assert marks.words == ("cancer or gene damage possible", "irritant", "drowsiness")
    assert len(marks.pictograms) == 2


def test_an_acid_layer_makes_its_container_corrosive():
    sheet = prep_lines([StockGroup(library_exercise("three-in-one-bottle"), 3)], 3, PrepTerms())
    marks = {line.waste.stream: m for line, m in waste_labels(sheet)}
    assert marks["acid"].words == ("corrosive",)
    assert marks["aqueous"].words == ()


def test_the_page_names_section_stream_and_contents(sheet):
    (page,) = pages_of(pdf_of(waste_labels_html(HEAD, "Bottom layer", sheet)))
    assert "Halogenated solvent waste" in page
    assert "Section B, Bottom layer: what was stripped off. Fill to at most 80 %." in page
    assert "WARNING Cancer or gene damage possible" in page
