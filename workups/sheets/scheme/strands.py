"""The product on its way, as strands: as wide as the share that goes this way."""

from collections.abc import Sequence

from workups.sheets.scheme.structure import Amounts
from workups.sheets.svg import Drawing

_GAP = 1.5
_LEAST_SHARE, _LEAST_OF_SEVERAL = 0.005, 0.015
# The first product is drawn full, the others are told apart by what their strand is filled with.
_FILLS = ("full", "hollow", "solid", "waste", "glass", "other")

Point = tuple[float, float]


def draw_way(
    drawing: Drawing, points: Sequence[Point], shares: Amounts, widest: float = 9.0
) -> None:
    """A way of straight lines down and across, with a strand for each product, ``widest`` for all
    of one alone; a thin line where nothing is known or none of it goes this way."""
    least = _LEAST_OF_SEVERAL if len(shares) > 1 else _LEAST_SHARE
    strands = [(i, share) for i, share in enumerate(shares) if share >= least]
    if not strands:
        drawing.shape("polyline", points=_joined(points), stroke_width=1.2)
        return
    unit = widest if len(shares) == 1 else 1.7 * widest / len(shares)
    left = -(sum(unit * share for _, share in strands) + _GAP * (len(strands) - 1)) / 2
    for i, share in strands:
        width = max(1.2, unit * share)
        draw_strand(drawing, [*_edge(points, left), *_edge(points, left + width)[::-1]], i)
        left += width + _GAP


def draw_strand(drawing: Drawing, corners: Sequence[Point], target: int) -> None:
    """A closed outline, filled as the strand of a target is."""
    fill = _FILLS[target % len(_FILLS)]
    if fill == "full":
        drawing.shape("polygon", points=_joined(corners), fill="currentColor", stroke_width=0.4)
    elif fill == "hollow":
        drawing.shape("polygon", points=_joined(corners), class_="drawing-hollow", stroke_width=1.2)
    else:
        drawing.hatched(fill, "polygon", points=_joined(corners))


def _joined(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)


def _edge(points: Sequence[Point], aside: float) -> list[Point]:
    """A way moved aside, to the right where it goes down; its corners stay square."""
    if len(points) == 2:
        return [(x + aside, y) for x, y in points]
    (x0, y0), (_, y1), (x2, _), (_, y3) = points
    across = y1 - aside if x2 > x0 else y1 + aside
    return [(x0 + aside, y0), (x0 + aside, across), (x2 + aside, across), (x2 + aside, y3)]
