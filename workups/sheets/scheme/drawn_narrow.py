"""A scheme for a phone: the same vessels and arms as lines down the side, the words beside them."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

from workups.sheets.scheme.drawn_wide import Link, draw_phases, legend_of
from workups.sheets.scheme.strands import draw_way
from workups.sheets.scheme.structure import Arm, Kind, Leg, Scheme
from workups.sheets.scheme.words import Words
from workups.sheets.svg import Area, Drawing, wrapped

_WIDTH, _MARGIN = 340.0, 4.0
_LANE, _BOX, _AFTER_LANES = 19.0, 13.0, 6.0
_LINE, _SIZE = 17.0, 13.0
_BEFORE_STEP, _BEFORE_VESSEL = 9.0, 4.0
_WIDEST = 6.5


@dataclass(frozen=True)
class _Line:
    """A line of text, with the vessel whose first line it is and the step it leads to."""

    text: str
    before: float = 0.0
    bold: bool = False
    vessel: int | None = None
    leg: Leg | None = None


def draw_narrow(key: str, title: str, text: str, words: Words, link: Link | None = None) -> Drawing:
    """The scheme in 340 px. ``link`` gives the address behind a step."""
    scheme = words.scheme
    lanes = _lanes(scheme)
    text_x = _MARGIN + _LANE * (1 + max(lanes)) + _AFTER_LANES
    heading = wrapped(title, _WIDTH - 2 * _MARGIN, 14)
    legend = legend_of(words)
    top = _MARGIN + 18.0 * len(heading) + _LINE * len(legend) + 4
    lines = list(_lines(words, _WIDTH - _MARGIN - text_x))
    height = top + sum(_LINE + line.before for line in lines) + _MARGIN
    drawing = Drawing(key, _WIDTH, height, title, text)
    y = drawing.paragraph(_MARGIN, _MARGIN + 13, heading, font_size=14, font_weight="bold")
    for draw in legend:
        draw(drawing, _MARGIN, y)
        y += _LINE
    at_y = _heights(lines, top)
    _draw_ways(drawing, scheme, lanes, at_y)
    for i, vessel in enumerate(scheme.vessels):
        left, box_top = _lane_x(lanes[i]) - _BOX / 2, at_y[i] - _BOX / 2
        drawing.shape(
            "rect", x=left, y=box_top, width=_BOX, height=_BOX, rx=2, class_="drawing-hollow",
            stroke_width=2.4 if vessel.weighed_at is not None else 1.2,
            stroke_dasharray="3 2" if vessel.discarded_at is not None else None)
        draw_phases(drawing, Area(left + 2, box_top + 2, _BOX - 4, _BOX - 4), vessel)
    _draw_lines(drawing, lines, text_x, top, link)
    return drawing


def _lane_x(lane: int) -> float:
    return _MARGIN + _LANE * (lane + 0.5)


def _in_order(scheme: Scheme) -> Iterator[tuple[int, ...]]:
    """The vessels step by step, those that one step fills together: first what leaves the line,
    then what it goes on to."""
    onward = {arm.goal for arm in scheme.arms if arm.kind is Kind.ON}
    order = sorted(
        range(len(scheme.vessels)), key=lambda i: (scheme.vessels[i].at, i in onward, i))
    for _, together in groupby(order, key=lambda i: scheme.vessels[i].at):
        yield tuple(together)


def _lines(words: Words, width: float) -> Iterator[_Line]:
    scheme = words.scheme
    for together in _in_order(scheme):
        for arm in scheme.arms:
            if arm.goal in together:
                for leg in arm.legs:
                    yield from _step_lines(words, leg, width)
        for i in together:
            vessel = scheme.vessels[i]
            head = " → ".join(filter(None, (vessel.layer, words.name(vessel))))
            told = [t.removeprefix(f"{vessel.layer}: ").removesuffix(" layer")
                    for t in words.all_of(vessel)]
            rest = ", ".join(t for t in told if t and t != vessel.layer)
            first, *more = wrapped(head, width, _SIZE)
            yield _Line(first, _BEFORE_VESSEL, bold=True, vessel=i)
            yield from (_Line(text, bold=True) for text in more)
            yield from (_Line(text) for text in (wrapped(rest, width, _SIZE) if rest else ()))


def _step_lines(words: Words, leg: Leg, width: float) -> Iterator[_Line]:
    before = _BEFORE_STEP
    for found in words.found(leg.step):
        for text in wrapped(f"▸ {found}", width, _SIZE):
            yield _Line(text, before, bold=True, leg=leg)
            before = 0.0
    for said in (words.leg(leg), *words.losses(leg)):
        for text in wrapped(said, width, _SIZE):
            yield _Line(text, before, leg=leg)
            before = 0.0


def _heights(lines: list[_Line], top: float) -> dict[int, float]:
    """The middle of the first line of each vessel."""
    found, y = {}, top
    for line in lines:
        y += line.before
        if line.vessel is not None:
            found[line.vessel] = y + _LINE / 2
        y += _LINE
    return found


def _draw_lines(
    drawing: Drawing, lines: list[_Line], x: float, y: float, link: Link | None
) -> None:
    for line in lines:
        y += line.before
        with drawing.linked(link(line.leg) if link and line.leg else ""):
            drawing.text(
                x, y + 12.5, line.text, font_size=_SIZE,
                font_weight="bold" if line.bold else None)
        y += _LINE


def _lanes(scheme: Scheme) -> list[int]:
    """The lane of each vessel: one that leads straight on hands its lane down, one that nothing
    leads on from is drawn beside all lanes."""
    order = [i for together in _in_order(scheme) for i in together]
    place = {vessel: n for n, vessel in enumerate(order)}
    onward = {arm.source: arm.goal for arm in scheme.arms if arm.kind is Kind.ON}
    leads_on = {arm.source for arm in scheme.arms}
    lanes: dict[int, int] = {}
    busy_until: list[int] = []
    for vessel in order:
        if vessel in lanes or (vessel not in leads_on and place[vessel]):
            continue
        chain = [vessel]
        while chain[-1] in onward:
            chain.append(onward[chain[-1]])
        ends = max(place[a.goal] for a in (*scheme.arms, _still(vessel)) if a.source in chain)
        free = (n for n, until in enumerate(busy_until) if until < place[vessel])
        lane = next(free, len(busy_until))
        busy_until[lane:lane + 1] = [ends]
        lanes.update(dict.fromkeys(chain, lane))
    return [lanes.get(i, len(busy_until)) for i in range(len(scheme.vessels))]


def _still(vessel: int) -> Arm:
    return Arm(vessel, vessel, Kind.ON, ())


def _draw_ways(drawing: Drawing, scheme: Scheme, lanes: list[int], at_y: dict[int, float]) -> None:
    for arm in scheme.arms:
        x0, x1 = _lane_x(lanes[arm.source]), _lane_x(lanes[arm.goal])
        y0, y1 = at_y[arm.source] + _BOX / 2, at_y[arm.goal]
        if x0 == x1:
            draw_way(drawing, [(x0, y0), (x0, y1 - _BOX / 2)], arm.shares, _WIDEST)
            continue
        begins = y0 if arm.kind is Kind.JOINS or not _goes_on(scheme, arm) else y1 - 8
        draw_way(drawing, [(x0, begins), (x0, y1), (x1, y1), (x1, y1)], arm.shares, _WIDEST)


def _goes_on(scheme: Scheme, arm: Arm) -> bool:
    return any(a.source == arm.source and a.kind is Kind.ON for a in scheme.arms)
