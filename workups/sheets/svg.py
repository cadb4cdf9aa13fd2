"""A small writer of themeable, accessible SVG.

Colours are ``currentColor`` and classes (see ``static/css/drawings.css``); there is no style
attribute, no style element and no script, so that a strict content security policy holds. All
areas are told apart by hatching, never by colour alone.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from xml.etree import ElementTree

NAMESPACE = "http://www.w3.org/2000/svg"
# Mean width of a character of a system sans face, in em. Only used to break lines early enough.
_CHARACTER_EM = 0.57
# For print; a page's own face takes over by the class ``drawing-text``.
_FONTS = "Source Sans 3, Noto Sans, Liberation Sans, DejaVu Sans, sans-serif"


@dataclass(frozen=True)
class Figure:
    """A picture with what stands in for it: a sentence or two, and a table of its numbers.

    ``narrow`` is the same picture for a phone, where one does not do for both; ``is_broad`` where
    the other needs more than half of a wide page.
    """

    svg: str
    title: str
    text: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    narrow: str = ""
    is_broad: bool = False


@dataclass(frozen=True)
class Area:
    """A rectangle of a drawing: left and top corner, width and height."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.x + self.width

    @property
    def bottom(self) -> float:
        return self.y + self.height


def _number(value: object) -> str:
    """Coordinates to two decimals, so that equal input gives equal bytes."""
    if isinstance(value, float):
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return str(value)


def _attributes(attributes: dict[str, object]) -> dict[str, str]:
    return {
        name.rstrip("_").replace("_", "-"): _number(value)
        for name, value in attributes.items()
        if value is not None
    }


class Drawing:
    """One SVG picture under construction. ``key`` makes its ids unique on a page."""

    def __init__(self, key: str, width: float, height: float, title: str, text: str) -> None:
        self.width = width
        self.key = "".join(ch if ch.isalnum() else "-" for ch in key)
        ids = (f"{self.key}-title", f"{self.key}-text")
        self._svg = self._root = ElementTree.Element(
            "svg",
            {
                "xmlns": NAMESPACE,
                "viewBox": f"0 0 {_number(width)} {_number(height)}",
                "width": _number(width),
                "height": _number(height),
                "class": "drawing",
                "role": "img",
                "aria-labelledby": " ".join(ids),
            },
        )
        self._child(self._root, "title", title, {"id": ids[0]})
        self._child(self._root, "desc", text, {"id": ids[1]})
        self._defs = ElementTree.SubElement(self._root, "defs")
        self._hatchings: dict[str, str] = {}

    @staticmethod
    def _child(
        parent: ElementTree.Element, tag: str, text: str, attributes: dict[str, object]
    ) -> ElementTree.Element:
        element = ElementTree.SubElement(parent, tag, _attributes(attributes))
        element.text = text or None
        return element

    @contextmanager
    def linked(self, address: str) -> Iterator[None]:
        """What is drawn meanwhile leads to an address; nothing where it is empty."""
        outside = self._root
        if address:
            # Whoever does not see the picture has its table, and the steps elsewhere on the page.
            for name in ("role", "aria-labelledby"):
                self._svg.attrib.pop(name, None)
            self._svg.set("aria-hidden", "true")
            self._root = ElementTree.SubElement(outside, "a", {"href": address, "tabindex": "-1"})
        yield
        self._root = outside

    def line(self, x1: float, y1: float, x2: float, y2: float, **more: object) -> None:
        """A straight line in the ink of the text."""
        self._child(
            self._root,
            "line",
            "",
            {"x1": x1, "y1": y1, "x2": x2, "y2": y2, "stroke": "currentColor", **more},
        )

    def shape(self, tag: str, **attributes: object) -> None:
        """An outline in the ink of the text, not filled unless ``fill`` says so."""
        self._child(self._root, tag, "", {"fill": "none", "stroke": "currentColor", **attributes})

    def text(self, x: float, y: float, text: str, **more: object) -> None:
        """One line of text, its baseline at ``y``."""
        self._child(
            self._root,
            "text",
            text,
            {
                "x": x,
                "y": y,
                "fill": "currentColor",
                "font-size": 13,
                "font-family": _FONTS,
                "class": "drawing-text",
                **more,
            },
        )

    def paragraph(self, x: float, y: float, lines: Iterable[str], **more: object) -> float:
        """Lines of text under each other; returns the baseline that a next line would have."""
        size = float(str(more.get("font_size", 13)))
        for line in lines:
            self.text(x, y, line, **more)
            y += 1.3 * size
        return y

    def hatched(self, kind: str, tag: str, **attributes: object) -> None:
        """A shape with the tint and the hatching of a kind of place, and an outline."""
        self._child(
            self._root,
            tag,
            "",
            {"fill": "none", "class": f"drawing-tint drawing-{kind}", **attributes},
        )
        self._child(
            self._root,
            tag,
            "",
            {"fill": self._hatching(kind), "stroke": "currentColor", **attributes},
        )

    def _hatching(self, kind: str) -> str:
        if kind not in HATCHINGS:
            raise KeyError(f"no hatching for {kind!r}; there is {', '.join(HATCHINGS)}")
        if not HATCHINGS[kind].marks:
            return "none"
        if kind not in self._hatchings:
            self._hatchings[kind] = f"{self.key}-{kind}"
            self._define(HATCHINGS[kind], self._hatchings[kind])
        return f"url(#{self._hatchings[kind]})"

    def _define(self, hatching: Hatching, pattern_id: str) -> None:
        pattern = ElementTree.SubElement(
            self._defs,
            "pattern",
            _attributes(
                {
                    "id": pattern_id,
                    "patternUnits": "userSpaceOnUse",
                    "width": hatching.size,
                    "height": hatching.size,
                }
            ),
        )
        for mark in hatching.marks:
            self._child(
                pattern,
                "path",
                "",
                {
                    "d": mark,
                    "fill": "none",
                    "stroke": "currentColor",
                    "stroke-width": hatching.stroke,
                },
            )

    def to_string(self) -> str:
        """The picture as text, ready to be put into a page."""
        return ElementTree.tostring(self._svg, encoding="unicode")


def printed(svg: str) -> str:
    """A picture for a sheet, which has no stylesheet for it: what is to be hollow is white."""
    root = ElementTree.fromstring(svg)  # noqa: S314 (our own output)
    for element in root.iter():
        if element.get("class") == "drawing-hollow":
            element.set("fill", "#fff")
    ElementTree.register_namespace("", NAMESPACE)
    return ElementTree.tostring(root, encoding="unicode")


@dataclass(frozen=True)
class Hatching:
    """A repeating square of ``size`` with strokes; without strokes the area stays empty."""

    name: str
    size: float = 8
    marks: tuple[str, ...] = ()
    stroke: float = 1.0


HATCHINGS = {
    "organic": Hatching("slanted lines", 8, ("M-2,2 L2,-2 M0,8 L8,0 M6,10 L10,6",), 1.1),
    "aqueous": Hatching("level dashes", 10, ("M0,2.5 H6", "M5,7.5 H10 M0,7.5 H1"), 1.1),
    "solid": Hatching("dots", 6, ("M2,3 H4",), 2.0),
    "waste": Hatching("crossed lines", 8, ("M0,0 L8,8 M8,0 L0,8",), 1.0),
    "glass": Hatching("upright lines", 5, ("M2.5,0 V5",), 1.0),
    "other": Hatching("small crosses", 8, ("M2,4 H6 M4,2 V6",), 1.0),
    "air": Hatching("no hatching"),
}


def wrapped(text: str, width: float, font_size: float = 13) -> list[str]:
    """Lines that fit into ``width`` at a font size; words are kept whole where they can be."""
    characters = max(8, int(width / (_CHARACTER_EM * font_size)))
    return textwrap.wrap(text, characters, break_long_words=True) or [""]
