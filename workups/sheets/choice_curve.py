"""Shares against a choice of one step: what more portions, another pH or more agent would do."""

import math

from workups.grading.trying import Trial
from workups.sheets.axis import Scale
from workups.sheets.svg import Area, Drawing, Figure, wrapped
from workups.words.numbers import amount, fixed, percent, plain

_WIDTH = 340.0
_PLOT = Area(52, 44, 276, 180)
_DASHES = (None, "7 4", "2 3", "9 3 2 3", "1 4")
_LINE = 18.0


def said(trial: Trial, value: float) -> str:
    """A value of the choice with its unit."""
    unit = trial.idea.unit
    return amount(value, unit) if unit else plain(value)


def choice_figure(trial: Trial, chosen: float | None, title: str) -> Figure:
    """All lines of a trial, with the chosen value marked and the plan's own."""
    text = " ".join(
        f"{line.name}: {percent(line.shares[0])} at {said(trial, trial.values[0])}, "
        f"{percent(line.shares[-1])} at {said(trial, trial.values[-1])}."
        for line in trial.lines)
    rows = tuple(
        (said(trial, value), *(percent(line.shares[i]) for line in trial.lines))
        for i, value in enumerate(trial.values))
    header = (trial.idea.of.capitalize() if trial.idea.of != "pH" else "pH",
              *(line.name for line in trial.lines))
    drawn = _draw(trial, chosen, title, text)
    return Figure(drawn.to_string(), title, text, header, rows)


def _draw(trial: Trial, chosen: float | None, title: str, text: str) -> Drawing:
    heading = wrapped(title, _WIDTH - 16, 14)
    legend = [(i, wrapped(line.name, _WIDTH - 60, 12)) for i, line in enumerate(trial.lines)]
    top = _PLOT.y + 18.0 * (len(heading) - 1)
    plot = Area(_PLOT.x, top, _PLOT.width, _PLOT.height)
    height = plot.bottom + 50 + sum(_LINE * len(lines) for _, lines in legend)
    drawing = Drawing("choice", _WIDTH, height, title, text)
    drawing.paragraph(8, 18, heading, font_size=14, font_weight="bold")
    across = Scale(0.0, len(trial.values) - 1.0, plot.x + 14, plot.right - 14)
    lowest = min(min(line.shares) for line in trial.lines)
    up = Scale(max(0.0, math.floor((lowest - 0.02) * 10) / 10), 1.0, plot.bottom, plot.y)
    _draw_axes(drawing, trial, plot, across, up)
    _draw_chosen(drawing, trial, plot, across, chosen)
    y = plot.bottom + 52
    for i, lines in legend:
        _draw_line(drawing, trial.lines[i].shares, across, up, i)
        drawing.line(8, y - 4, 40, y - 4, stroke_width=1.8, stroke_dasharray=_dash(i))
        drawing.paragraph(48, y, lines, font_size=12)
        y += _LINE * len(lines)
    return drawing


def _dash(line: int) -> str | None:
    return _DASHES[line % len(_DASHES)]


def _draw_axes(drawing: Drawing, trial: Trial, plot: Area, across: Scale, up: Scale) -> None:
    drawing.line(plot.x, plot.bottom, plot.right, plot.bottom)
    drawing.line(plot.x, plot.y, plot.x, plot.bottom)
    for share in up.ticks(6):
        drawing.line(plot.x - 4, up(share), plot.x, up(share))
        drawing.text(
            plot.x - 8, up(share) + 4, f"{fixed(100 * share, 0)} %", font_size=12,
            text_anchor="end")
    for i, value in enumerate(trial.values):
        drawing.line(across(i), plot.bottom, across(i), plot.bottom + 4)
        drawing.text(
            across(i), plot.bottom + 17, plain(value), font_size=11,
            text_anchor="middle")
    of = f"{trial.idea.of}, {trial.idea.unit}" if trial.idea.unit else trial.idea.of
    drawing.text(plot.x + plot.width / 2, plot.bottom + 33, of, font_size=12, text_anchor="middle")


def _draw_chosen(
    drawing: Drawing, trial: Trial, plot: Area, across: Scale, chosen: float | None
) -> None:
    if trial.planned in trial.values:
        x = across(trial.values.index(trial.planned))
        drawing.line(x, plot.y, x, plot.bottom, stroke_width=1, stroke_dasharray="2 4")
        drawing.text(x, plot.y - 12, "plan", font_size=11, text_anchor="middle")
    if chosen in trial.values:
        x = across(trial.values.index(chosen))
        drawing.line(x, plot.y, x, plot.bottom, stroke_width=2)
        drawing.shape("polygon", points=f"{x - 5:.1f},{plot.y - 9:.1f} {x + 5:.1f},"
                      f"{plot.y - 9:.1f} {x:.1f},{plot.y:.1f}", fill="currentColor")


def _draw_line(
    drawing: Drawing, shares: tuple[float, ...], across: Scale, up: Scale, line: int
) -> None:
    places = [(across(i), up(share)) for i, share in enumerate(shares)]
    drawing.shape(
        "polyline", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in places), stroke_width=1.8,
        stroke_dasharray=_dash(line))
    for x, y in places:
        drawing.shape("circle", cx=x, cy=y, r=2.6, fill="currentColor")
