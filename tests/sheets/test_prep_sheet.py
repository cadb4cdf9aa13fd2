"""The stockroom's sheet: amounts, making up, glass, queues, labels, waste, on both papers."""

import datetime
import math

import pytest

from tests.sheets.pdf_text import pages_of, size_mm
from workups.documents import library_exercise
from workups.sheets.content import SheetHead
from workups.sheets.prep_lines import PrepTerms, StockGroup, prep_lines
from workups.sheets.prep_sheet import prep_sheets_pdf
from workups.sheets.staff_content import PrepPart, PrepSheets
from workups.stock.stock import scaled, stock_for_one
from workups.stock.sums import added
from workups.stock.waste import Waste

HEAD = SheetHead("Organic Laboratory II", "Section B", date=datetime.date(2030, 3, 4))


@pytest.fixture(scope="module")
def bottle():
    return library_exercise("three-in-one-bottle")


@pytest.fixture(scope="module")
def sheet(bottle):
    return prep_lines([StockGroup(bottle, 24)], 24, PrepTerms(0.2, balances=3, evaporators=2))


def line(sheet, name):
    return next(i for g in sheet.groups for i in g.lines if i.need.name == name)


def test_totals_are_sets_times_amount_with_the_spare(sheet):
    """30 mL of 1 M acid each (2 x 15 in the plan): 24 x 30 x 1.2 = 864, put out as 870 mL."""
    acid = line(sheet, "1 M hydrochloric acid")
    assert (acid.each, acid.total) == ("30\xa0mL", "870\xa0mL")
    assert "36.5 g of pure acid made up to 1 L" in acid.need.how_to_make
    assert acid.pictograms == ("corrosion", "exclamation")


def test_the_queue_is_everybodys_time_over_the_instruments_there_are(sheet, bottle):
    one = {i.name: i for i in stock_for_one(bottle).instruments}
    found = {i.name: i for i in sheet.instruments}
    assert found["balance"].units == 3
    minutes = math.ceil(24 * one["rotary evaporator"].minutes / 2)
    assert found["rotary evaporator"].queue == f"{round(minutes / 60, 2):g}\xa0h"


def test_instruments_that_nobody_counted_are_the_usual_ones(bottle):
    sheet = prep_lines([StockGroup(bottle, 24)], 24, PrepTerms())
    assert {i.name: i.units for i in sheet.instruments} == {"balance": 3, "rotary evaporator": 3}


@pytest.mark.parametrize(
    ("volume_mL", "expected"),
    [
        # 80 % of 4 L are 3.2 L: 3.1 L still fit, 3.3 L ask for the next size.
        (3100, (1, 4000.0)),
        (3300, (1, 10000.0)),
        (8000, (1, 10000.0)),
        (8001, (2, 10000.0)),
        (200, (1, 250.0)),
        (0, (0, 0.0)),
    ],
)
def test_waste_containers_are_at_most_80_percent_full(volume_mL, expected):
    waste = Waste("aqueous", volume_mL, 0.0, ())
    assert waste.containers == expected
    count, size = waste.containers
    assert volume_mL <= 0.8 * count * size + 1e-6


def test_two_groups_put_together_are_the_sum_of_both(bottle):
    vinegar = library_exercise("too-much-vinegar")
    both = added([scaled(stock_for_one(bottle), 2, 0.1), scaled(stock_for_one(vinegar), 3, 0.1)])
    mtbe = [n for n in both.needs if n.key == "mtbe"]
    each = [
        next(n.amount for n in stock_for_one(e).needs if n.key == "mtbe") for e in (bottle, vinegar)
    ]
    assert [n.amount for n in mtbe] == [pytest.approx(1.1 * (2 * each[0] + 3 * each[1]))]
    assert both.students == 5
    with pytest.raises(ValueError, match="no stock"):
        added([])


def test_labels_are_counted_for_flasks_bottles_and_waste(sheet, bottle):
    counts = {s.name: s.count for s in sheet.sundries}
    assert counts["flask labels"] == 11 * 24  # eleven flasks of the plan
    assert counts["bottle labels"] == sum(len(g.lines) for g in sheet.groups)
    assert counts["strips of pH paper"] == math.ceil(4 * 24 * 1.2)  # two tests, two adjustments


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("Letter", (216, 279))])
def test_the_printed_sheet_says_it_all(sheet, paper, size):
    head = SheetHead(HEAD.course, HEAD.section, date=HEAD.date, paper=paper)
    heading = "Section B: Three in one bottle"
    part = PrepPart(heading, sheet, "Meets Tuesday.", ("Vent early.",), "Call 1.")
    pdf = prep_sheets_pdf(PrepSheets(head, "Three in one bottle", (part,)))
    assert size_mm(pdf) == size
    pages = pages_of(pdf)
    text = " ".join(pages)
    for words in (
        "24 students, 24 sets",
        "20 % to spare",
        "flammable",
        "870 mL",
        "125 mL separatory funnel",
        "Rotary evaporator",
        "each at most 80 % full",
        "Call 1.",
        "the local safety rules, the safety data sheets and the responsible instructor come first",
    ):
        assert words in text, words
    assert "Bench code" not in text
