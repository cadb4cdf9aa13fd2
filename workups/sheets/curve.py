"""The recovery curve: share of the product taken up with one to six portions."""

import math
from collections.abc import Sequence

from workups.grading.assessment import CurvePoint, ExpectedTarget
from workups.sheets.axis import Scale
from workups.sheets.svg import Area, Drawing, Figure, wrapped
from workups.words.numbers import fixed, percent

_WIDTH = 340.0
_PLOT = Area(52, 40, 276, 190)
_SHIFT = 4.0
_TOTAL, _PORTION = "the same total volume, divided", "the same portion, repeated"


def recovery_figure(expected: ExpectedTarget) -> Figure:
    """Both recovery curves of a target with the goal; all values are shares."""
    title = f"Recovery of {expected.name} by number of portions"
    text = _text(expected)
    points = zip(expected.same_total, expected.same_portion, strict=True)
    rows = tuple(
        (str(a.portions), percent(a.recovery), _range(a), percent(b.recovery), _range(b))
        for a, b in points
    )
    header = ("Portions", f"With {_TOTAL}", "90 % range", f"With {_PORTION}", "90 % range")
    return Figure(_draw(title, text, expected).to_string(), title, text, header, rows)


def _range(point: CurvePoint) -> str:
    return f"{percent(point.low)} to {percent(point.high)}"


def _first_to_reach(points: Sequence[CurvePoint], goal: float) -> str:
    enough = next((p.portions for p in points if p.recovery >= goal), None)
    if enough is None:
        return f"the goal is not reached with {points[-1].portions} portions"
    return f"the goal is reached with {enough} portion{'s' if enough > 1 else ''}"


def _text(expected: ExpectedTarget) -> str:
    goal = expected.recovery_goal
    parts = [
        f"With {words}: {percent(points[0].recovery)} with one portion, "
        f"{percent(points[-1].recovery)} with {points[-1].portions}; "
        f"{_first_to_reach(points, goal)}."
        for words, points in ((_TOTAL, expected.same_total), (_PORTION, expected.same_portion))
        if points
    ]
    return " ".join([f"The goal is {percent(goal)}.", *parts])


def _draw(title: str, text: str, expected: ExpectedTarget) -> Drawing:
    heading = wrapped(title, _WIDTH - 16, 14)
    shift = 18.0 * (len(heading) - 1)
    plot = Area(_PLOT.x, _PLOT.y + shift, _PLOT.width, _PLOT.height)
    drawing = Drawing(f"recovery-{expected.target}", _WIDTH, plot.bottom + 90, title, text)
    drawing.paragraph(8, 18, heading, font_size=14, font_weight="bold")
    points = (*expected.same_total, *expected.same_portion)
    across = Scale(0.6, max(p.portions for p in points) + 0.4, plot.x, plot.right)
    lowest = min(*(p.low for p in points), expected.recovery_goal - 0.1)
    up = Scale(max(0.0, math.floor(lowest * 10) / 10), 1.0, plot.bottom, plot.y)
    _draw_axes(drawing, plot, across, up)
    _draw_goal(drawing, plot, up(expected.recovery_goal), expected.recovery_goal)
    _draw_series(drawing, across, up, expected.same_total, total=True)
    _draw_series(drawing, across, up, expected.same_portion, total=False)
    _draw_key(drawing, plot.bottom + 56)
    return drawing


def _draw_axes(drawing: Drawing, plot: Area, across: Scale, up: Scale) -> None:
    drawing.line(plot.x, plot.bottom, plot.right, plot.bottom)
    drawing.line(plot.x, plot.y, plot.x, plot.bottom)
    for value in up.ticks(6):
        y = up(value)
        drawing.line(plot.x - 4, y, plot.x, y)
        drawing.text(
            plot.x - 8, y + 4, f"{fixed(100 * value, 0)} %", font_size=12, text_anchor="end"
        )
    for count in range(1, math.floor(across.high) + 1):
        drawing.line(across(count), plot.bottom, across(count), plot.bottom + 4)
        drawing.text(
            across(count), plot.bottom + 18, str(count), font_size=12, text_anchor="middle"
        )
    drawing.text(
        plot.x + plot.width / 2, plot.bottom + 35, "portions", font_size=12, text_anchor="middle"
    )


def _draw_goal(drawing: Drawing, plot: Area, y: float, goal: float) -> None:
    drawing.line(plot.x, y, plot.right, y, stroke_dasharray="2 3", stroke_width=1.5)
    drawing.text(plot.x + 6, y - 5, f"goal {percent(goal)}", font_size=12)


def _draw_series(
    drawing: Drawing, across: Scale, up: Scale, points: Sequence[CurvePoint], *, total: bool
) -> None:
    shift = -_SHIFT if total else _SHIFT
    places = [(across(p.portions) + shift, up(p.recovery)) for p in points]
    drawing.shape(
        "polyline",
        points=" ".join(f"{x:.1f},{y:.1f}" for x, y in places),
        stroke_width=1.5,
        stroke_dasharray=None if total else "7 4",
    )
    for point, (x, y) in zip(points, places, strict=True):
        drawing.line(x, up(point.low), x, up(point.high))
        _mark(drawing, x, y, total)


def _mark(drawing: Drawing, x: float, y: float, total: bool) -> None:
    if total:
        drawing.shape("circle", cx=x, cy=y, r=4.0, fill="currentColor")
    else:
        drawing.shape(
            "rect",
            x=x - 4,
            y=y - 4,
            width=8.0,
            height=8.0,
            fill="none",
            class_="drawing-hollow",
            stroke_width=1.5,
        )


def _draw_key(drawing: Drawing, y: float) -> None:
    for i, (words, total) in enumerate(((_TOTAL, True), (_PORTION, False))):
        at = y + 20 * i
        drawing.line(12, at, 48, at, stroke_width=1.5, stroke_dasharray=None if total else "7 4")
        _mark(drawing, 30.0, at, total)
        drawing.text(56, at + 4, words, font_size=12)
