"""Counts as bars, the most frequent first; a hatched part of a bar is a part of the count."""

from dataclasses import dataclass

from workups.sheets.svg import Drawing, Figure, wrapped

MOST_BARS = 10
_WIDTH, _LEFT, _RIGHT = 380.0, 172.0, 350.0
_TOP, _BAR, _LINE, _GAP = 14.0, 16.0, 15.0, 12.0
_FONT = 12


@dataclass(frozen=True)
class Count:
    """A bar: its words, how many, and how many of them are in the hatched part."""

    words: str
    number: int
    part: int = 0


@dataclass(frozen=True)
class CountsOf:
    """What is counted: the picture's title, what a bar and its hatched part are, the bars.

    ``part_words`` is empty where bars have no hatched part. ``of`` is one of what is counted.
    """

    title: str
    bar_words: str
    part_words: str
    counts: tuple[Count, ...]
    of: str = ""


def counts_figure(counted: CountsOf) -> Figure:
    """The picture of the ten most frequent; text and table name them all.

    Its title is not drawn: it stands over the picture wherever it is shown."""
    text = " ".join(_sentence(counted, count) for count in counted.counts)
    header = (counted.of, counted.bar_words, counted.part_words)
    rows = [(c.words, str(c.number), str(c.part)) for c in counted.counts]
    columns = 3 if counted.part_words else 2
    return Figure(
        _draw(counted, text).to_string(),
        counted.title,
        text,
        header[:columns],
        tuple(row[:columns] for row in rows),
    )


def _sentence(counted: CountsOf, count: Count) -> str:
    part = f", {counted.part_words} in {count.part}" if counted.part_words else ""
    return f"{count.words}: {count.number}{part}."


def _draw(counted: CountsOf, text: str) -> Drawing:
    shown = counted.counts[:MOST_BARS]
    labels = [wrapped(count.words, _LEFT - 20, _FONT) for count in shown]
    heights = [max(_BAR, _LINE * len(lines)) + _GAP for lines in labels]
    bottom = _TOP + sum(heights)
    room = 26.0 if counted.part_words else 6.0
    drawing = Drawing("counts-" + counted.title, _WIDTH, bottom + room, counted.title, text)
    most = max((count.number for count in shown), default=1)
    y = _TOP
    for count, lines, height in zip(shown, labels, heights, strict=True):
        drawing.paragraph(8, y + _FONT, lines, font_size=_FONT)
        width = (_RIGHT - _LEFT) * count.number / most
        drawing.shape("rect", x=_LEFT, y=y, width=width, height=_BAR)
        if count.part:
            part = (_RIGHT - _LEFT) * count.part / most
            drawing.hatched("organic", "rect", x=_LEFT, y=y, width=part, height=_BAR)
        drawing.text(_LEFT + width + 6, y + _FONT + 1, str(count.number), font_size=_FONT)
        y += height
    if counted.part_words:
        words = f"Bar: {counted.bar_words}. Hatched: {counted.part_words}."
        drawing.text(8, bottom + 14, words, font_size=_FONT)
    return drawing
