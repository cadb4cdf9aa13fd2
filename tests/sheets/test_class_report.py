"""The class report on paper: the page's pictures, with words and tables in their place too."""

import datetime
import re

from tests.sheets.pdf_text import pages_of
from tests.sheets.test_class_yields import figure as yields_figure
from workups.sheets.class_report import ClassReport, class_report_html, class_report_pdf
from workups.sheets.content import SheetHead
from workups.sheets.counts import Count, CountsOf, counts_figure

HEAD = SheetHead("Organic Laboratory II", "Tuesday A, Friday C", date=datetime.date(2030, 3, 4))
FIGURES = (
    yields_figure(),
    counts_figure(CountsOf("Found most", "reports", "cost", (Count("Brine <last>", 3, 1),))),
)


def test_every_picture_stands_there_with_its_words_and_its_table():
    text = " ".join(pages_of(class_report_pdf(ClassReport(HEAD, "Ester", 6, FIGURES))))
    for words in (
        "Class report",
        "4 March 2030",
        "6 reports, no names",
        "Tuesday A: 4 reports, median 85.1 %",
        "Brine <last>: 3, cost in 1.",
        "Highest",
    ):
        assert words in text.replace("\u00a0", " "), words


def test_the_pictures_are_those_of_the_page():
    html = class_report_html(ClassReport(HEAD, "Ester", 6, FIGURES))
    for figure in FIGURES:
        assert figure.svg in html


def test_nothing_in_it_needs_colour():
    """Black, white and hatching: no colour is named in the pictures or the sheet's own style."""
    html = class_report_html(ClassReport(HEAD, "Ester", 6, FIGURES))
    assert not re.search(r"#[0-9a-f]{3,6}\b|rgb\(|(fill|stroke)=\"(?!none|currentColor|url)", html)


def test_a_class_without_reports_is_a_page_that_says_so():
    text = " ".join(pages_of(class_report_pdf(ClassReport(HEAD, "Ester", 0, ()))))
    assert "No readings are locked yet" in text
