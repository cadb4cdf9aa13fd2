"""The class picture: its words, its table, and dots that hide neither each other nor a slip."""

from xml.etree import ElementTree

from workups.grading.assessment import Band
from workups.sheets.class_yields import SectionDots, class_yields_figure

BAND = Band(88.0, 84.0, 90.0, "%")
SECTIONS = [
    SectionDots("Tuesday A", (71.0, 85.0, 85.2, 88.0), 85.1),
    SectionDots("Thursday B with a long name", (-87.6, 88.0), 0.2),
    SectionDots("Friday C", (), None),
]
SVG = "{http://www.w3.org/2000/svg}"


def figure():
    return class_yields_figure("hexyl acetate", BAND, SECTIONS)


def drawn():
    return ElementTree.fromstring(figure().svg)  # noqa: S314 (drawn by ourselves)


def test_the_text_says_what_the_picture_shows():
    text = figure().text.replace("\u00a0", " ")
    assert "Expected of careful work: 84 to 90 % of the theoretical yield." in text
    assert "Tuesday A: 4 reports, median 85.1 %, from 71.0 % to 88.0 %." in text
    assert "Friday C: no report yet." in text


def test_the_table_has_a_row_for_each_section():
    rows = figure().rows
    assert [row[:2] for row in rows] == [
        ("Tuesday A", "4"), ("Thursday B with a long name", "2"), ("Friday C", "0")
    ]
    assert rows[2][2:] == ("–", "–", "–")


def test_every_yield_on_the_scale_is_a_ring_and_the_rest_is_counted():
    root = drawn()
    assert len(root.findall(f"{SVG}circle")) == 5
    words = [t.text for t in root.findall(f"{SVG}text")]
    assert "2, 1 off scale" in words
    assert "no report yet" in words


def test_rings_of_like_yields_stand_on_each_other():
    root = drawn()
    at = [(float(c.get("cx")), float(c.get("cy"))) for c in root.findall(f"{SVG}circle")][:4]
    for i, (x, y) in enumerate(at):
        for other_x, other_y in at[i + 1 :]:
            assert abs(x - other_x) >= 9 or abs(y - other_y) >= 9


def test_rings_lie_inside_the_picture():
    root = drawn()
    width, height = (float(v) for v in root.get("viewBox").split()[2:])
    for ring in root.findall(f"{SVG}circle"):
        assert 0 < float(ring.get("cx")) < width
        assert 0 < float(ring.get("cy")) < height
