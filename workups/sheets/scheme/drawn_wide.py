"""A scheme as chemists draw it: vessels as boxes, steps on the arms, layers left and right."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from workups.sheets.scheme.columns import Place, places
from workups.sheets.scheme.strands import Point, draw_strand, draw_way
from workups.sheets.scheme.structure import Arm, Kind, Leg, Vessel, parted
from workups.sheets.scheme.words import Words
from workups.sheets.svg import Area, Drawing, wrapped

_PITCH, _BOX, _MARGIN = 178.0, 158.0, 8.0
_STRIPE = 9.0
_LINE, _SIZE = 15.5, 12.0
_TO_LEGS, _LEVEL, _TO_BOX = 9.0, 13.0, 12.0
_JOINS_BESIDE, _BETWEEN_STEPS = 16.0, 5.0

Link = Callable[[Leg], str]


@dataclass(frozen=True)
class _Told:
    """Lines of text; the first ``bold`` of them heavy."""

    lines: tuple[str, ...]
    bold: int

    @property
    def height(self) -> float:
        return _LINE * len(self.lines)


def draw_wide(key: str, title: str, text: str, words: Words, link: Link | None = None) -> Drawing:
    """The scheme with a column for each arm. ``link`` gives the address behind a step."""
    return _Wide(words, title, places(words.scheme), link).drawn(key, text)


class _Wide:
    def __init__(
        self, words: Words, title: str, where: tuple[Place, ...], link: Link | None
    ) -> None:
        self.words, self.scheme, self.where, self.link = words, words.scheme, where, link
        self.title = title
        self.boxes = [self._box(vessel) for vessel in self.scheme.vessels]
        self.rows = 1 + max(place.row for place in where)
        self.columns = 1 + max(place.column for place in where)
        self.heading = wrapped(title, max(self.width - 2 * _MARGIN, 100), 14)
        self.legend = legend_of(words)
        self._measure()

    @property
    def width(self) -> float:
        return self.columns * _PITCH

    def _measure(self) -> None:
        """The heights of the boxes of each row, and where its arms and boxes begin."""
        legs = [0.0] * (self.rows + 1)
        for arm in self.scheme.arms:
            below = self.where[arm.source].row + 1
            told = sum(self._leg(leg).height + _BETWEEN_STEPS for leg in arm.legs)
            legs[below] = max(legs[below], told)
        crossing = [self._levels(row) for row in range(self.rows)]
        y = _MARGIN + 18.0 * len(self.heading) + _LINE * len(self.legend) + 8
        self.split_y: list[float] = []
        self.top_y: list[float] = []
        for row in range(self.rows):
            if row:
                y += _TO_LEGS + legs[row]
                self.split_y.append(y + 4)
                y += _LEVEL * max(1, crossing[row]) + _TO_BOX
            else:
                self.split_y.append(y)
            self.top_y.append(y)
            y += max(self._height(i) for i, place in enumerate(self.where) if place.row == row)
        self.height = y + _MARGIN

    def _levels(self, row: int) -> int:
        return sum(1 for arm in self.scheme.arms if self._across_row(arm) == row)

    def _across_row(self, arm: Arm) -> int | None:
        """The row above which an arm goes across; None for one that goes straight down."""
        source, goal = self.where[arm.source], self.where[arm.goal]
        if source.column == goal.column:
            return None
        return goal.row

    def _box(self, vessel: Vessel) -> _Told:
        width = _BOX - _STRIPE - 10
        name = wrapped(self.words.name(vessel), width, _SIZE + 0.6)
        told = [line for said in self.words.all_of(vessel) for line in wrapped(said, width, _SIZE)]
        return _Told((*name, *told), len(name))

    def _leg(self, leg: Leg) -> _Told:
        width = _BOX - 6
        name = wrapped(self.words.leg(leg), width, _SIZE)
        found = [f"▸ {words}" for words in self.words.found(leg.step)]
        told = [line for w in found for line in wrapped(w, width, _SIZE + 0.6)]
        lost = [line for w in self.words.losses(leg) for line in wrapped(w, width, _SIZE)]
        return _Told((*told, *name, *lost), len(told))

    def _height(self, vessel: int) -> float:
        return self.boxes[vessel].height + 12

    def _x(self, vessel: int) -> float:
        return (self.where[vessel].column + 0.5) * _PITCH

    def drawn(self, key: str, text: str) -> Drawing:
        drawing = Drawing(key, self.width, self.height, self.title, text)
        y = drawing.paragraph(
            _MARGIN, _MARGIN + 13, self.heading, font_size=14, font_weight="bold")
        for draw in self.legend:
            draw(drawing, _MARGIN, y)
            y += _LINE
        self._draw_ways(drawing)
        for arm in self.scheme.arms:
            self._draw_legs(drawing, arm)
        for i in range(len(self.scheme.vessels)):
            seen = self.scheme.vessels[i]
            left, top = self._x(i) - _BOX / 2, self.top_y[self.where[i].row]
            area = Area(left, top, _BOX, self._height(i))
            heavy = 2.4 if seen.weighed_at is not None else 1.2
            drawing.shape(
                "rect", x=area.x, y=area.y, width=area.width, height=area.height, rx=3,
                class_="drawing-hollow", stroke_width=heavy,
                stroke_dasharray="4 3" if seen.discarded_at is not None else None)
            draw_phases(drawing, Area(area.x + 1, area.y + 1, _STRIPE, area.height - 2), seen)
            _draw_told(drawing, left + _STRIPE + 7, top + 17, self.boxes[i])
        return drawing

    def _draw_ways(self, drawing: Drawing) -> None:
        levels: dict[int, int] = {}
        for arm in self.scheme.arms:
            row = self._across_row(arm)
            level = 0
            if row is not None:
                level = levels.get(row, 0)
                levels[row] = level + 1
            self._draw_way(drawing, arm, row, level)

    def _draw_way(self, drawing: Drawing, arm: Arm, row: int | None, level: int) -> None:
        x0, x1 = self._x(arm.source), self._x(arm.goal)
        bottom = self.top_y[self.where[arm.source].row] + self._height(arm.source)
        top = self.top_y[self.where[arm.goal].row]
        if row is None:
            split = min(top, self.split_y[self.where[arm.goal].row])
            draw_way(drawing, [(x0, bottom), (x0, split)], parted(self.scheme, arm.source))
            draw_way(drawing, [(x0, split), (x0, top)], arm.shares)
            return
        y = self.split_y[row] + _LEVEL * level
        begins = bottom if arm.kind is Kind.JOINS or self._is_only(arm) else y
        ends_at = x1 + self._beside(arm, x0 > x1)
        way: list[Point] = [(x0, begins), (x0, y), (ends_at, y), (ends_at, top)]
        draw_way(drawing, way, arm.shares)

    def _is_only(self, arm: Arm) -> bool:
        """Whether nothing goes straight down from where an arm begins."""
        return not any(
            a.source == arm.source and self._across_row(a) is None for a in self.scheme.arms)

    def _beside(self, arm: Arm, comes_from_right: bool) -> float:
        """An arm that meets another at a box comes in beside it."""
        others = [a for a in self.scheme.arms if a.goal == arm.goal and a is not arm]
        if not others:
            return 0.0
        return _JOINS_BESIDE if comes_from_right else -_JOINS_BESIDE

    def _draw_legs(self, drawing: Drawing, arm: Arm) -> None:
        if not arm.legs:
            return
        y = self.top_y[self.where[arm.source].row] + self._row_height(arm.source) + _TO_LEGS
        left = self._x(arm.source) - _BOX / 2
        told = [(leg, self._leg(leg)) for leg in arm.legs]
        drawing.shape(
            "rect", x=left, y=y - 1, width=_BOX,
            height=sum(t.height + _BETWEEN_STEPS for _, t in told) - 2,
            class_="drawing-hollow", stroke="none")
        for leg, lines in told:
            with drawing.linked(self.link(leg) if self.link else ""):
                _draw_told(drawing, left + 3, y + 11, lines)
            y += lines.height + _BETWEEN_STEPS

    def _row_height(self, vessel: int) -> float:
        row = self.where[vessel].row
        return max(self._height(i) for i, place in enumerate(self.where) if place.row == row)


def text_of_title(words: Words) -> str:
    """The heading over a scheme."""
    return "Separation scheme" if words.has_several else f"Separation scheme: {words.target(0)}"


def legend_of(words: Words) -> list[Callable[[Drawing, float, float], None]]:
    """What draws the legend, a line for each product; nothing for one product alone."""
    targets = range(len(words.scheme.targets)) if words.has_several else ()
    return [partial(_draw_legend, words, target) for target in targets]


def _draw_legend(words: Words, target: int, drawing: Drawing, left: float, y: float) -> None:
    top = y - 9
    corners = [(left, top), (left + 30, top), (left + 30, top + 7), (left, top + 7)]
    draw_strand(drawing, corners, target)
    drawing.text(left + 38, y - 2, words.target(target), font_size=_SIZE)


def draw_phases(drawing: Drawing, area: Area, vessel: Vessel) -> None:
    """A stripe hatched by what is in a vessel, from the top down as the layers stand."""
    seen = [p for p in vessel.phases if p.phase in ("organic", "aqueous", "solid")]
    whole = sum(max(p.volume_mL, 0.05) for p in seen)
    y = area.y
    for phase in seen:
        height = area.height * max(phase.volume_mL, 0.05) / whole
        drawing.hatched(
            phase.phase, "rect", x=area.x, y=y, width=area.width, height=height, stroke_width=0.6)
        y += height


def _draw_told(drawing: Drawing, x: float, y: float, told: _Told) -> None:
    for i, line in enumerate(told.lines):
        weight = "bold" if i < told.bold else None
        drawing.text(x, y, line, font_size=_SIZE, font_weight=weight)
        y += _LINE
