"""Two separatory funnels side by side, before the shake and after it, the size of a hand.

Layers stand as high as their volume does in glass of this shape. Words stand in a layer where
there is room; what is more to say stands below.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from workups.sheets.svg import Area, Drawing, wrapped

_WIDTH, _HALF, _MARGIN = 340.0, 170.0, 6.0
_TALL, _BROAD = 158.0, 100.0
_SIZE, _LINE = 12.0, 15.5
_ROOM_FOR_WORDS = 15.0
_BUBBLES = ((-0.12, 0.22, 2.6), (0.02, 0.40, 3.4), (0.15, 0.16, 2.0), (-0.03, 0.70, 2.2),
            (0.11, 0.62, 2.9), (-0.16, 0.52, 2.0))


@dataclass(frozen=True)
class Level:
    """One liquid in a drawn funnel: its hatching, its volume, the word in it, and what is said of
    it below."""

    hatching: str
    volume_mL: float
    word: str
    told: tuple[str, ...]


@dataclass(frozen=True)
class Glass:
    """One drawn funnel, its liquids from the top down. ``above`` is said over the stopper,
    ``bubbles`` is gas on its way out; ``cut`` marks where the two layers are parted."""

    heading: str
    levels: tuple[Level, ...]
    above: str = ""
    bubbles: bool = False
    cut: bool = False


def draw_glasses(
    key: str, title: str, text: str, glasses: Sequence[Glass], notes: Sequence[str],
    capacity_mL: float,
) -> Drawing:
    """Funnels side by side over what is said of each, and notes over the whole width."""
    heading = wrapped(title, _WIDTH - 2 * _MARGIN, 14)
    note_lines = [line for note in notes for line in wrapped(note, _WIDTH - 2 * _MARGIN, 13)]
    told = [_told(glass) for glass in glasses]
    top = 22.0 + 18.0 * len(heading) + 34
    below = top + _TALL + 44
    height = below + _LINE * max(len(lines) for lines in told) + 17.0 * len(note_lines) + 16
    drawing = Drawing(key, _WIDTH, height, title, text)
    drawing.paragraph(_MARGIN, 18, heading, font_size=14, font_weight="bold")
    for i, (glass, lines) in enumerate(zip(glasses, told, strict=True)):
        left = i * _HALF
        body = Area(left + (_HALF - _BROAD) / 2, top, _BROAD, _TALL)
        drawing.text(left + _MARGIN, top - 26, glass.heading, font_size=_SIZE, font_weight="bold")
        _draw_glass(drawing, body, glass, capacity_mL)
        y = below
        for line, is_bold in lines:
            weight = "bold" if is_bold else None
            drawing.text(left + _MARGIN, y, line, font_size=_SIZE, font_weight=weight)
            y += _LINE
    drawing.paragraph(_MARGIN, height - 17.0 * len(note_lines) + 5, note_lines)
    return drawing


def _told(glass: Glass) -> list[tuple[str, bool]]:
    """Lines under a funnel, the first of each liquid bold."""
    lines: list[tuple[str, bool]] = []
    for level in glass.levels:
        for i, words in enumerate(level.told):
            size = _SIZE + 0.6 if i == 0 else _SIZE
            lines += [(line, i == 0) for line in wrapped(words, _HALF - _MARGIN, size)]
    return lines


def _radius(height: np.ndarray) -> np.ndarray:
    """Inner radius of the funnel at heights 0 (tap) to 1 (neck), in units of its height."""
    cone = 0.035 + 0.265 * np.minimum(height, 0.68) / 0.68
    dome = 0.300 * np.sqrt(np.clip(1 - ((height - 0.68) / 0.335) ** 2, 0, 1))
    return np.where(height <= 0.68, cone, np.maximum(dome, 0.06))


def level_of_volume(share_of_capacity: float) -> float:
    """Height (0..1) at which a share of the funnel's capacity stands in it."""
    heights = np.linspace(0.0, 1.0, 401)
    volume = np.concatenate([[0.0], np.cumsum(_radius((heights[1:] + heights[:-1]) / 2) ** 2)])
    return float(np.interp(share_of_capacity * volume[-1], volume, heights))


def _outline(body: Area, low: float, high: float) -> str:
    """The inside of the funnel between two heights as the points of a polygon."""
    heights = np.linspace(low, high, 41)
    radii = _radius(heights) * body.height
    middle = body.x + body.width / 2
    ys = body.bottom - heights * body.height
    right = [f"{middle + r:.1f},{y:.1f}" for r, y in zip(radii, ys, strict=True)]
    left = [f"{middle - r:.1f},{y:.1f}" for r, y in zip(radii[::-1], ys[::-1], strict=True)]
    return " ".join(right + left)


def _draw_glass(drawing: Drawing, body: Area, glass: Glass, capacity_mL: float) -> None:
    filled_mL, low = 0.0, 0.0
    edges: list[float] = []
    for level in reversed(glass.levels):
        filled_mL += level.volume_mL
        high = level_of_volume(min(1.0, filled_mL / capacity_mL))
        drawing.hatched(level.hatching, "polygon", points=_outline(body, low, high))
        _write_in(drawing, body, (low, high), level.word)
        low = high
        edges.append(high)
    middle = body.x + body.width / 2
    drawing.shape("polygon", points=_outline(body, 0.0, 1.0), stroke_width=2)
    drawing.shape("rect", x=middle - 8, y=body.y - 8, width=16, height=8, rx=2, stroke_width=2)
    drawing.shape("rect", x=middle - 15, y=body.bottom, width=30, height=7, rx=3, stroke_width=2)
    drawing.shape("path", d=f"M{middle - 4:.1f},{body.bottom + 7:.1f} v16 h8 v-16", stroke_width=2)
    if glass.bubbles:
        _draw_bubbles(drawing, body, low)
    if glass.above:
        _draw_above(drawing, body, glass.above)
    if glass.cut and len(edges) == 2:
        _draw_cut(drawing, body, edges[0])


def _write_in(drawing: Drawing, body: Area, between: tuple[float, float], word: str) -> None:
    """The word in a layer, in its middle or higher up where that is too narrow for it, if there
    is room."""
    low, high = between
    width = 0.55 * 11 * len(word) + 4
    under_top = high - _ROOM_FOR_WORDS / 2 / body.height
    fits = (at for at in ((low + high) / 2, under_top)
            if 2 * float(_radius(np.array(at))) * body.height >= width)
    at = next(fits, None)
    if at is None or (high - low) * body.height < _ROOM_FOR_WORDS:
        return
    x, y = body.x + body.width / 2, body.bottom - at * body.height
    drawing.shape("rect", x=x - width / 2, y=y - 7, width=width, height=14, rx=2, stroke="none",
                  class_="drawing-hollow")
    drawing.text(x, y + 4, word, font_size=11, text_anchor="middle")


def _draw_bubbles(drawing: Drawing, body: Area, level: float) -> None:
    """Gas and vapour over the liquid."""
    room = (1.0 - level) * body.height
    for aside, up, radius in _BUBBLES:
        drawing.shape(
            "circle", cx=body.x + body.width / 2 + aside * min(body.height, 2.2 * room),
            cy=body.y + room * (1.0 - up), r=radius, stroke_width=1.0)


def _draw_above(drawing: Drawing, body: Area, words: str) -> None:
    """An arrow out of the neck, and what goes that way."""
    middle, y = body.x + body.width / 2, body.y - 10
    drawing.shape("path", d=f"M{middle:.1f},{y:.1f} v-9 m-4,4 l4,-5 l4,5", stroke_width=1.4)
    drawing.text(middle + 14, body.y - 10, words, font_size=_SIZE)


def _draw_cut(drawing: Drawing, body: Area, level: float) -> None:
    """The line at which the tap is closed."""
    middle, y = body.x + body.width / 2, body.bottom - level * body.height
    radius = float(_radius(np.array(level))) * body.height
    left = body.x - 24
    drawing.line(left, y, middle + radius + 6, y, stroke_width=1.6, stroke_dasharray="5 3")
    drawing.shape("polygon", points=f"{left:.1f},{y - 4:.1f} {left + 7:.1f},{y:.1f} "
                  f"{left:.1f},{y + 4:.1f}", fill="currentColor", stroke_width=0.5)
    drawing.text(left - 2, y - 7, "cut", font_size=_SIZE)
