"""Pictograms: a red diamond each, a word in place of the picture, no style attribute."""

from xml.etree import ElementTree

import pytest

from workups.sheets.pictograms import RED, pictogram_svg
from workups.sheets.svg import NAMESPACE
from workups.stock.hazards import PICTOGRAMS


@pytest.mark.parametrize("name", PICTOGRAMS)
def test_a_red_diamond_with_something_black_in_it_and_its_word(name):
    root = ElementTree.fromstring(pictogram_svg(name, "a"))  # noqa: S314 (our own drawing)
    frame = root.findall(f"{{{NAMESPACE}}}path")[0]
    assert frame.get("stroke") == RED
    assert root.findtext(f"{{{NAMESPACE}}}title") == PICTOGRAMS[name]
    inside = [e for e in root.iter() if "#000000" in (e.get("fill"), e.get("stroke"))]
    assert inside
    assert not [e for e in root.iter() if e.get("style")]


def test_no_two_look_alike_and_ids_follow_the_key():
    drawn = {pictogram_svg(name).split("</desc>")[1] for name in PICTOGRAMS}
    assert len(drawn) == len(PICTOGRAMS)
    assert 'id="ghs-flame-x-title"' in pictogram_svg("flame", "x")


def test_there_is_no_picture_of_something_unknown():
    with pytest.raises(KeyError):
        pictogram_svg("logo")
