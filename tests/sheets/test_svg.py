"""The drawing underneath all figures: well-formed, accessible, no style of its own."""

from xml.etree import ElementTree

import pytest

from workups.sheets.svg import HATCHINGS, NAMESPACE, Drawing, wrapped

SVG = f"{{{NAMESPACE}}}"


def root_of(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)  # noqa: S314 (our own output)


def make_drawing(key: str = "step 4", **words: str) -> Drawing:
    return Drawing(key, 100, 50.0, words.get("title", "A title"), words.get("text", "A text"))


def test_a_drawing_names_its_title_and_text_for_a_screen_reader() -> None:
    root = root_of(make_drawing().to_string())
    ids = root.attrib["aria-labelledby"].split()
    named = {e.attrib["id"]: e.text for e in root if "id" in e.attrib}
    assert [named[i] for i in ids] == ["A title", "A text"]
    assert root.attrib["role"] == "img"


def test_words_of_a_person_are_escaped() -> None:
    drawing = make_drawing(title="<script>", text="a & b")
    drawing.text(1, 1, "</text><script>alert(1)</script>")
    root = root_of(drawing.to_string())
    assert {e.tag for e in root.iter()} == {
        f"{SVG}{t}" for t in ("svg", "title", "desc", "defs", "text")
    }


@pytest.mark.parametrize("kind", HATCHINGS)
def test_each_hatching_is_defined_once_however_often_it_is_used(kind: str) -> None:
    drawing = make_drawing()
    for x in (0, 10):
        drawing.hatched(kind, "rect", x=x, y=0, width=5, height=5)
    root = root_of(drawing.to_string())
    patterns = root.findall(f".//{SVG}pattern")
    assert len(patterns) == (1 if HATCHINGS[kind].marks else 0)
    fills = {e.attrib["fill"] for e in root.findall(f"{SVG}rect")} - {"none"}
    assert fills == {f"url(#{p.attrib['id']})" for p in patterns}


def test_two_drawings_on_a_page_share_no_id() -> None:
    def ids(key: str) -> set[str]:
        drawing = make_drawing(key)
        drawing.hatched("organic", "rect", x=0, y=0, width=5, height=5)
        root = root_of(drawing.to_string())
        return {e.attrib["id"] for e in root.iter() if "id" in e.attrib}

    assert not ids("step 4") & ids("step 5")


def test_hatchings_differ_from_each_other() -> None:
    marks = [h.marks for h in HATCHINGS.values()]
    assert len(set(marks)) == len(marks)


def test_an_unknown_hatching_is_refused() -> None:
    with pytest.raises(KeyError, match="no hatching for 'plaid'"):
        make_drawing().hatched("plaid", "rect")


def test_coordinates_have_two_decimals_at_most() -> None:
    drawing = make_drawing()
    drawing.line(1 / 3, 2.0, 0.0, -0.001)
    line = root_of(drawing.to_string()).find(f"{SVG}line")
    assert line is not None
    assert [line.attrib[n] for n in ("x1", "y1", "x2")] == ["0.33", "2", "0"]


def test_lines_break_before_they_leave_the_picture() -> None:
    lines = wrapped("a rather long caption that does not fit into one line", 100, 10)
    assert len(lines) > 1
    assert all(len(line) <= 100 / 5.7 for line in lines)
