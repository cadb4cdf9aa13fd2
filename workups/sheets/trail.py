"""The product trail: where a target product is after every step, as stacked bars."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from workups.chemistry.plan import Plan, PlanError
from workups.grading.assessment import StepReport, TrailShare
from workups.grading.exercise import Exercise
from workups.grading.material_facts import substance_word
from workups.grading.numbers import fixed, joined, percent, rounded, unit_after
from workups.grading.sentences import step_heading
from workups.sheets.svg import HATCHINGS, Area, Drawing, Figure, wrapped

_WIDTH = 340.0
_BAR = Area(8, 0, 324, 18)
_LEAST_SHARE, _SMALL_SHARE = 5e-4, 0.01

# Places that are not flasks, and the hatching each is drawn with.
PLACE_KINDS: Mapping[str, str] = {
    "waste": "waste",
    "glass": "glass",
    "air": "air",
    "gone": "air",
    "other": "other",
}
PLACE_WORDS: Mapping[str, str] = {
    "glass": "left on glass",
    "air": "evaporated",
    "gone": "no longer there",
    "other": "other places",
}
PHASE_KINDS: Mapping[str, str] = {
    "organic": "organic",
    "aqueous": "aqueous",
    "droplets": "aqueous",
    "solid": "solid",
}
PHASE_WORDS: Mapping[str, str] = {"droplets": "water droplets", "solid": "with the solid"}
KIND_WORDS: Mapping[str, str] = {
    "organic": "in an organic layer",
    "aqueous": "in an aqueous layer",
    "solid": "with a solid",
    "waste": "in the waste",
    "glass": "left on glass",
    "air": "evaporated or gone",
    "other": "other (under 1 %)",
}


@dataclass(frozen=True)
class TrailRow:
    """One step and the places that hold the product after it, the main one first."""

    number: str
    heading: str
    shares: tuple[TrailShare, ...]
    same_after: tuple[str, ...] = ()


def trail_figure(
    exercise: Exercise, plan: Plan, reports: Sequence[StepReport], target: str, *, shares_only: bool
) -> Figure:
    """The trail of one target through the steps of a plan; ``shares_only`` hides the grams."""
    rows = trail_rows(exercise, plan, reports, target)
    shown = condensed(rows)
    title = f"Where the {substance_word(target, exercise.setup.tables)} is after each step"
    text = " ".join(_row_sentence(row, shares_only) for row in shown)
    header = ("Step", "What", "Place", "Share")
    return Figure(
        _draw(f"trail-{target}", title, text, shown, shares_only).to_string(),
        title,
        text,
        header if shares_only else (*header, "Mass"),
        tuple(_table(rows, shares_only)),
    )


def trail_rows(
    exercise: Exercise, plan: Plan, reports: Sequence[StepReport], target: str
) -> tuple[TrailRow, ...]:
    """The shares of a target per step; what is missing to 100 % is shown as ``gone``."""
    rows = []
    for report in reports:
        shares = [s for s in report.trail if s.target == target and s.share >= _LEAST_SHARE]
        missing = 1.0 - sum(s.share for s in report.trail if s.target == target)
        if missing >= _LEAST_SHARE:
            shares.append(TrailShare(target, "gone", "", missing, missing * _whole_g(shares)))
        shares.sort(key=lambda s: -s.share)
        number, heading = _step_words(exercise, plan, report)
        rows.append(TrailRow(number, heading, tuple(shares)))
    return tuple(rows)


def condensed(rows: Sequence[TrailRow]) -> tuple[TrailRow, ...]:
    """Rows for the picture: small shares made one, steps that move nothing told in one row."""
    shown: list[TrailRow] = []
    for full in rows:
        row = replace(full, shares=_with_small_ones_together(full.shares))
        if shown and _places(shown[-1]) == _places(row):
            shown[-1] = replace(shown[-1], same_after=(*shown[-1].same_after, row.number))
        else:
            shown.append(row)
    return tuple(shown)


def _with_small_ones_together(shares: tuple[TrailShare, ...]) -> tuple[TrailShare, ...]:
    large = tuple(s for s in shares if s.share >= _SMALL_SHARE)
    small = tuple(s for s in shares if s.share < _SMALL_SHARE)
    if len(small) < 2:
        return shares
    together = TrailShare(
        small[0].target, "other", "", sum(s.share for s in small), sum(s.mass_g for s in small)
    )
    return (*large, together)


def _places(row: TrailRow) -> tuple[tuple[str, str], ...]:
    return tuple((place_words(s), _share(s.share)) for s in row.shares)


def _whole_g(shares: Sequence[TrailShare]) -> float:
    """The mass in g that a share of 1 stands for."""
    return next((s.mass_g / s.share for s in shares if s.share > 0), 0.0)


def _step_words(exercise: Exercise, plan: Plan, report: StepReport) -> tuple[str, str]:
    try:
        at = plan.index(report.step)
    except PlanError:
        return "", report.verb.capitalize()
    return str(at + 1), step_heading(plan.steps[at], exercise)


def place_kind(share: TrailShare) -> str:
    """The hatching of a place: by what it is, or by the phase in a flask."""
    return PLACE_KINDS.get(share.place) or PHASE_KINDS.get(share.phase, "air")


def place_words(share: TrailShare) -> str:
    """A place as a caption has it: "funnel (organic)", "waste (acid)"."""
    place = PLACE_WORDS.get(share.place, share.place)
    phase = PHASE_WORDS.get(share.phase, share.phase.replace("_", "-"))
    return f"{place} ({phase})" if phase else place


def _share(share: float) -> str:
    """A share in percent, small ones with one decimal, so that a row adds up to the eye."""
    return percent(share) if share >= 0.1 else unit_after(fixed(100 * share, 1), "%")


def _mass(share: TrailShare) -> str:
    return rounded(share.mass_g, "g", 3 if share.share >= 0.1 else 2)


def _caption(share: TrailShare, shares_only: bool) -> str:
    words = f"{place_words(share)} {_share(share.share)}"
    return words if shares_only else f"{words}, {_mass(share)}"


def _row_sentence(row: TrailRow, shares_only: bool) -> str:
    start = f"Step {row.number}, {row.heading}" if row.number else row.heading
    start += f" (the same after {joined(row.same_after)})" if row.same_after else ""
    return f"{start}: {'; '.join(_caption(s, shares_only) for s in row.shares)}."


def _table(rows: Sequence[TrailRow], shares_only: bool) -> list[tuple[str, ...]]:
    table: list[tuple[str, ...]] = []
    for row in rows:
        for share in row.shares:
            line = (row.number, row.heading, place_words(share), _share(share.share))
            table.append(line if shares_only else (*line, _mass(share)))
    return table


def _title_of(row: TrailRow) -> str:
    title = f"{row.number}. {row.heading}" if row.number else row.heading
    return f"{title} (the same after {joined(row.same_after)})" if row.same_after else title


def _draw(key: str, title: str, text: str, rows: Sequence[TrailRow], shares_only: bool) -> Drawing:
    heading = wrapped(title, _BAR.width, 14)
    titles = [wrapped(_title_of(row), _BAR.width, 13) for row in rows]
    captions = [
        wrapped("; ".join(_caption(s, shares_only) for s in row.shares), _BAR.width, 12)
        for row in rows
    ]
    kinds = _kinds_used(rows)
    body = sum(17.0 * len(t) + 16 * len(c) + 36 for t, c in zip(titles, captions, strict=True))
    height = 20 + 18.0 * len(heading) + body + 20 * ((len(kinds) + 1) // 2) + 8
    drawing = Drawing(key, _WIDTH, height, title, text)
    y = drawing.paragraph(_BAR.x, 18, heading, font_size=14, font_weight="bold") + 6
    for row, name, caption in zip(rows, titles, captions, strict=True):
        y = drawing.paragraph(_BAR.x, y, name) - 11
        _draw_bar(drawing, y, row)
        y = drawing.paragraph(_BAR.x, y + _BAR.height + 14, caption, font_size=12) + 12
    _draw_legend(drawing, y, kinds)
    return drawing


def _kinds_used(rows: Sequence[TrailRow]) -> list[str]:
    used = {place_kind(share) for row in rows for share in row.shares}
    return [kind for kind in HATCHINGS if kind in used]


def _draw_bar(drawing: Drawing, y: float, row: TrailRow) -> None:
    x = _BAR.x
    for share in row.shares:
        width = _BAR.width * share.share
        drawing.hatched(place_kind(share), "rect", x=x, y=y, width=width, height=_BAR.height)
        x += width


def _draw_legend(drawing: Drawing, y: float, kinds: Sequence[str]) -> None:
    for i, kind in enumerate(kinds):
        left, top = _BAR.x + (_BAR.width / 2) * (i % 2), y - 10 + 20 * (i // 2)
        drawing.hatched(kind, "rect", x=left, y=top, width=28.0, height=13.0)
        drawing.text(left + 34, top + 11, KIND_WORDS[kind], font_size=12)
