"""Yields of a class by section: a dot a report, the expected band behind, the median a mark."""

from collections.abc import Sequence
from dataclasses import dataclass

from workups.grading.assessment import Band
from workups.sheets.axis import Scale, decimals_of_step, round_step
from workups.sheets.svg import Drawing, Figure, wrapped
from workups.words.numbers import fixed, unit_after

_WIDTH = 380.0
_LEFT, _RIGHT, _TOP = 100.0, 354.0, 62.0
_DOT, _ROW_LEAST, _ROW_PADDING = 4.5, 44.0, 18.0
_AXIS_ROOM = 76.0
# Yields outside this range are slips of the pen: they are counted at the edge of the picture.
_LEAST, _MOST = 0.0, 150.0


@dataclass(frozen=True)
class SectionDots:
    """One row: the section's name, the percent yields found, and their median."""

    name: str
    percents: tuple[float, ...]
    median: float | None


def class_yields_figure(name: str, band: Band, sections: Sequence[SectionDots]) -> Figure:
    """The picture for one product; ``band`` and yields in percent of the theoretical yield."""
    title = f"Yields of {name} by section"
    text = " ".join([_band_words(band), *(_words(s) for s in sections)])
    drawing = _draw(title, text, band, sections)
    rows = tuple(
        (
            s.name,
            str(len(s.percents)),
            _percent(s.median),
            _percent(min(s.percents, default=None)),
            _percent(max(s.percents, default=None)),
        )
        for s in sections
    )
    header = ("Section", "Reports", "Median", "Lowest", "Highest")
    return Figure(drawing.to_string(), title, text, header, rows)


def _percent(value: float | None) -> str:
    return "–" if value is None else unit_after(fixed(value, 1), "%")


def _band_words(band: Band) -> str:
    return (
        f"Expected of careful work: {fixed(band.low, 0)} to {_percent_whole(band.high)} of the "
        "theoretical yield."
    )


def _percent_whole(value: float) -> str:
    return unit_after(fixed(value, 0), "%")


def _words(section: SectionDots) -> str:
    if not section.percents:
        return f"{section.name}: no report yet."
    count = len(section.percents)
    return (
        f"{section.name}: {count} report{'s' if count > 1 else ''}, median "
        f"{_percent(section.median)}, from {_percent(section.percents[0])} to "
        f"{_percent(section.percents[-1])}."
    )


def stacked(xs: Sequence[float], width: float) -> list[int]:
    """The level of each dot, so that dots closer than ``width`` stand on each other.

    ``xs`` rise; the first free level from 0 is taken.

    >>> stacked([0.0, 1.0, 1.5, 20.0], 5.0)
    [0, 1, 2, 0]
    """
    ends: list[float] = []
    levels = []
    for x in xs:
        level = next((i for i, end in enumerate(ends) if x - end >= width), len(ends))
        if level == len(ends):
            ends.append(x)
        else:
            ends[level] = x
        levels.append(level)
    return levels


def _draw(title: str, text: str, band: Band, sections: Sequence[SectionDots]) -> Drawing:
    shown = [[p for p in s.percents if _LEAST <= p <= _MOST] for s in sections]
    values = [p for row in shown for p in row] + [band.low, band.high, 100.0]
    margin = 0.06 * (max(values) - min(values))
    across = Scale(min(values) - margin, max(values) + margin, _LEFT, _RIGHT)
    levels = [stacked([across(p) for p in row], 2 * _DOT + 1) for row in shown]
    heights = [
        max(_ROW_LEAST, _ROW_PADDING + (2 * _DOT + 1) * (max(level, default=0) + 1))
        for level in levels
    ]
    bottom = _TOP + sum(heights)
    drawing = Drawing("class-" + title, _WIDTH, bottom + _AXIS_ROOM, title, text)
    drawing.paragraph(8, 18, wrapped(title, _WIDTH - 16, 14), font_size=14, font_weight="bold")
    _draw_references(drawing, across, band, bottom)
    y = _TOP
    for section, row, level, height in zip(sections, shown, levels, heights, strict=True):
        y += height
        _draw_name(drawing, y, section)
        _draw_dots(drawing, [across(p) for p in row], y, level)
        _draw_median(drawing, across, y, section.median)
    _draw_axis(drawing, across, bottom)
    return drawing


def _draw_references(drawing: Drawing, across: Scale, band: Band, bottom: float) -> None:
    low, high = across(band.low), across(band.high)
    drawing.hatched("solid", "rect", x=low, y=_TOP, width=high - low, height=bottom - _TOP)
    drawing.text((low + high) / 2, _TOP - 6, "expected", font_size=12, text_anchor="middle")
    x = across(100.0)
    drawing.line(x, _TOP, x, bottom, stroke_dasharray="2 3", stroke_width=1.5)
    drawing.text(x, _TOP - 22, "theoretical", font_size=12, text_anchor="middle")


def _draw_name(drawing: Drawing, y: float, section: SectionDots) -> None:
    drawing.line(8, y, _RIGHT, y, stroke_width=0.5)
    first, *more = wrapped(section.name, _LEFT - 16, 13)
    drawing.text(8, y - 18, f"{first}…" if more else first, font_size=13)
    drawing.text(8, y - 4, _remark(section), font_size=11)


def _remark(section: SectionDots) -> str:
    """Under the section's name: how many reports, or how many are off the scale."""
    off = [p for p in section.percents if not _LEAST <= p <= _MOST]
    if off:
        return f"{len(section.percents)}, {len(off)} off scale"
    count = len(section.percents)
    return "no report yet" if not count else f"{count} report{'s' if count > 1 else ''}"


def _draw_dots(drawing: Drawing, xs: Sequence[float], y: float, levels: Sequence[int]) -> None:
    for x, level in zip(xs, levels, strict=True):
        drawing.shape(
            "circle",
            cx=x,
            cy=y - _DOT - 4 - level * (2 * _DOT + 1),
            r=_DOT,
            stroke_width=1.5,
            class_="drawing-hollow",
        )


def _draw_median(drawing: Drawing, across: Scale, y: float, median: float | None) -> None:
    if median is None or not across.low <= median <= across.high:
        return
    x = across(median)
    drawing.shape("path", d=f"M{x:.2f},{y:.2f} l-5,7 h10 z", fill="currentColor")


def _draw_axis(drawing: Drawing, across: Scale, y: float) -> None:
    decimals = decimals_of_step(round_step(across.high - across.low, 6))
    for value in across.ticks(6):
        drawing.line(across(value), y, across(value), y + 5)
        drawing.text(
            across(value), y + 21, fixed(value, decimals), font_size=12, text_anchor="middle"
        )
    drawing.text((_LEFT + _RIGHT) / 2, y + 38, "percent yield", font_size=12, text_anchor="middle")
    words = "Ring: one report. Triangle: median. Dotted area: 90 % band."
    drawing.text(8, y + 60, words, font_size=12)
