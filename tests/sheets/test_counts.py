"""Counts as bars: all named in words and table, parts hatched, the longest bar the most."""

from xml.etree import ElementTree

import pytest

from workups.sheets.counts import MOST_BARS, Count, CountsOf, counts_figure

SVG = "{http://www.w3.org/2000/svg}"
FOUND = (Count("Brine was not last", 8, 4), Count("The flask was not tared", 2), Count("<b>", 1))


def rectangles(figure):
    root = ElementTree.fromstring(figure.svg)  # noqa: S314 (drawn by ourselves)
    return [(r.get("fill"), float(r.get("width"))) for r in root.iter(f"{SVG}rect")]


def test_text_and_table_say_what_the_bars_show():
    figure = counts_figure(CountsOf("Found", "reports", "cost points", FOUND, "Finding"))
    assert figure.text.startswith("Brine was not last: 8, cost points in 4. The flask")
    assert figure.header == ("Finding", "reports", "cost points")
    assert figure.rows[0] == ("Brine was not last", "8", "4")


def test_bars_are_as_long_as_their_counts_and_parts_are_hatched():
    drawn = rectangles(counts_figure(CountsOf("Found", "reports", "cost", FOUND)))
    whole = [width for fill, width in drawn if fill == "none"]
    hatched = [width for fill, width in drawn if fill.startswith("url(")]
    longest = max(whole)
    assert hatched == [pytest.approx(longest / 2, abs=0.01)]
    # The tint under the hatching is as wide as the part.
    expected = [longest, longest / 2, longest / 4, longest / 8]
    assert sorted(whole, reverse=True) == pytest.approx(expected, abs=0.01)


def test_without_parts_there_is_no_column_for_them():
    figure = counts_figure(CountsOf("Causes", "reports", "", FOUND[:1]))
    assert figure.rows == (("Brine was not last", "8"),)
    assert "Hatched" not in figure.svg


def test_the_picture_shows_the_first_ten_and_the_table_all():
    many = tuple(Count(f"Finding {n}", 20 - n) for n in range(14))
    figure = counts_figure(CountsOf("Found", "reports", "", many))
    assert len(figure.rows) == 14
    assert len(rectangles(figure)) == MOST_BARS
