"""The yield: both expected bands and the mass found, on one scale."""

from collections.abc import Iterator
from dataclasses import dataclass

from workups.grading.assessment import Band, ExpectedTarget, TargetYield
from workups.sheets.axis import Scale, decimals_of_step, round_step
from workups.sheets.svg import Area, Drawing, Figure, wrapped
from workups.words.numbers import (
    decimals_for,
    fixed,
    interval,
    uncertainty_decimals,
    unit_after,
    with_uncertainty,
)

_WIDTH = 340.0
_PLOT = Area(16, 66, 308, 0)
_ROW = 46.0
# Expanded uncertainty: about 95 % for the nearly normal result of two weighings.
_COVERAGE = 2.0
_CLASS = "Expected of the class"


@dataclass(frozen=True)
class Range:
    """One row of the picture: a value with the ends of its range, in the unit of the axis."""

    words: str
    value: float
    low: float
    high: float
    found: bool = False
    uncertainty: float = 0.0


def yield_figure(
    expected: ExpectedTarget, found: TargetYield | None, *, shares_only: bool = False
) -> Figure:
    """Class band, band for what this student did, and the mass found with its uncertainty.

    In g, or with ``shares_only`` in percent of the theoretical yield.
    """
    theoretical = found.theoretical_g if found else expected.theoretical_g
    factor, unit = (100.0 / theoretical, "%") if shares_only else (1.0, "g")
    ranges = _ranges(expected, found, factor)
    title = f"Yield of {expected.name}"
    words = [_words(r, unit) for r in ranges]
    reference = unit_after(fixed(theoretical * factor, 0 if shares_only else 2), unit)
    text = " ".join(
        [
            f"Theoretical yield {reference}.",
            *(f"{r.words}: {w}." for r, w in zip(ranges, words, strict=True)),
        ]
    )
    drawing = _draw(title, text, ranges, unit, theoretical * factor)
    rows = tuple((r.words, *_cells(r, unit)) for r in ranges)
    return Figure(drawing.to_string(), title, text, ("", "Value", "Range"), rows)


def _ranges(expected: ExpectedTarget, found: TargetYield | None, factor: float) -> list[Range]:
    own = found.done_band if found and found.done_band else None
    ranges = [_of_band(_CLASS, expected.class_band, factor)]
    ranges.append(
        _of_band("Expected for what was done", own, factor)
        if own
        else _of_band("Expected for the plan", expected.plan_band, factor)
    )
    if found and found.mass_g is not None:
        mass, u = found.mass_g * factor, (found.mass_u_g or 0.0) * factor
        ranges.append(Range("Found", mass, mass - _COVERAGE * u, mass + _COVERAGE * u, True, u))
    return ranges


def _of_band(words: str, band: Band, factor: float) -> Range:
    return Range(words, band.nominal * factor, band.low * factor, band.high * factor)


def _cells(r: Range, unit: str) -> tuple[str, str]:
    if r.found and r.uncertainty > 0:
        decimals = uncertainty_decimals(r.uncertainty)
        ends = f"{fixed(r.low, decimals)} to {fixed(r.high, decimals)}"
        return with_uncertainty(r.value, r.uncertainty, unit), unit_after(ends, unit)
    decimals = decimals_for(r.high - r.low, 2) if r.high > r.low else 2
    return unit_after(fixed(r.value, decimals), unit), interval(r.low, r.high, unit)


def _words(r: Range, unit: str) -> str:
    value, ends = _cells(r, unit)
    return f"{value} (standard uncertainty)" if r.found else f"{value}, 90 % range {ends}"


def _draw(title: str, text: str, ranges: list[Range], unit: str, reference: float) -> Drawing:
    heading = wrapped(title, _WIDTH - 16, 14)
    top = _PLOT.y + 18.0 * (len(heading) - 1)
    bottom = top + _ROW * len(ranges) + 4
    drawing = Drawing("yield-" + title, _WIDTH, bottom + 56, title, text)
    drawing.paragraph(8, 18, heading, font_size=14, font_weight="bold")
    values = [v for r in ranges for v in (r.low, r.high)] + [reference]
    margin = 0.06 * (max(values) - min(values) or max(values))
    across = Scale(min(values) - margin, max(values) + margin, _PLOT.x, _PLOT.right)
    _draw_reference(drawing, across(reference), top, bottom, reference, unit)
    for i, r in enumerate(ranges):
        _draw_range(drawing, across, top + _ROW * i + 20, r, unit)
    _draw_axis(drawing, across, bottom, unit)
    drawing.text(8, bottom + 50, "Bar: 90 % range and middle value. Point: ± 2 u.", font_size=12)
    return drawing


def _draw_reference(
    drawing: Drawing, x: float, top: float, bottom: float, reference: float, unit: str
) -> None:
    for start, end in _beside_words(top, bottom):
        drawing.line(x, start, x, end, stroke_dasharray="2 3", stroke_width=1.5)
    words = f"theoretical {unit_after(fixed(reference, 2 if unit == 'g' else 0), unit)}"
    anchor = "end" if x > _WIDTH / 2 else "start"
    drawing.text(
        x + (4 if anchor == "end" else -4), top - 14, words, font_size=12, text_anchor=anchor
    )


def _beside_words(top: float, bottom: float) -> Iterator[tuple[float, float]]:
    """Where the line may run: over the bars, not through the words above them."""
    yield top - 8, top
    rows = round((bottom - top - 4) / _ROW)
    for i in range(rows):
        bar = top + _ROW * i + 20
        yield bar - 3, bar + 16
    yield bottom - 6, bottom


def _draw_range(drawing: Drawing, across: Scale, y: float, r: Range, unit: str) -> None:
    low, middle, high = across(r.low), across(r.value), across(r.high)
    drawing.text(_PLOT.x - 8, y - 8, f"{r.words}: {_cells(r, unit)[0]}", font_size=12)
    if r.found:
        drawing.line(low, y + 6, high, y + 6, stroke_width=2)
        for end in (low, high):
            drawing.line(end, y + 1, end, y + 11, stroke_width=1.5)
        drawing.shape("circle", cx=middle, cy=y + 6, r=3.5, fill="currentColor")
        return
    kind = "solid" if r.words == _CLASS else "organic"
    drawing.hatched(kind, "rect", x=low, y=y, width=high - low, height=13.0)
    drawing.line(middle, y - 2, middle, y + 15, stroke_width=2.5)


def _draw_axis(drawing: Drawing, across: Scale, y: float, unit: str) -> None:
    drawing.line(_PLOT.x, y, _PLOT.right, y)
    decimals = decimals_of_step(round_step(across.high - across.low, 6))
    for value in across.ticks(6):
        drawing.line(across(value), y, across(value), y + 4)
        drawing.text(
            across(value),
            y + 18,
            unit_after(fixed(value, decimals), unit),
            font_size=12,
            text_anchor="middle",
        )
