"""The separation scheme: what becomes of the mixture, drawn from a plan as chemists draw it.

``structure`` reads vessels and arms off the plan and its reports, ``columns`` gives each vessel
its place, ``drawn_wide`` and ``drawn_narrow`` draw the same scheme for a page and for a phone,
``words`` says it to somebody who does not see it. ``beside`` holds two plans against each other,
vessel by vessel: planned beside done, one plan beside another.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from workups.chemistry.plan import Plan, Step
from workups.exercise.exercise import Exercise
from workups.grading.assessment import StepReport
from workups.sheets.scheme.beside import Difference, Side, compared
from workups.sheets.scheme.drawn_narrow import draw_narrow
from workups.sheets.scheme.drawn_wide import draw_wide, text_of_title
from workups.sheets.scheme.structure import scheme_of
from workups.sheets.scheme.words import Words
from workups.sheets.svg import Figure

_BROAD = 600.0


def scheme_figure(
    exercise: Exercise,
    plan: Plan,
    reports: Sequence[StepReport] = (),
    *,
    shares_only: bool,
    remarks: Mapping[str, Sequence[str]] | None = None,
    link: Callable[[Step], str] | None = None,
    key: str = "scheme",
) -> Figure:
    """The scheme of a plan. Without reports only what the plan itself says is drawn.

    ``shares_only`` leaves grams of product out; ``remarks`` has, by step id, a few words on what
    was found there; ``link`` gives the address that a step leads to; ``key`` tells two schemes of
    one page apart.
    """
    targets = [target.substance for target in exercise.setup.targets]
    words = Words(scheme_of(plan, targets, reports), exercise, shares_only, remarks or {})
    return _figure(words, text_of_title(words), key, link)


@dataclass(frozen=True)
class Beside:
    """Two schemes with the nodes marked at which they differ, and the differences in words."""

    names: tuple[str, str]
    figures: tuple[Figure, Figure]
    differences: tuple[Difference, ...]


def schemes_beside(
    exercise: Exercise, one: Side, other: Side, *, shares_only: bool = False
) -> Beside:
    """Two plans of an exercise, drawn side by side."""
    found = compared(exercise, one, other, shares_only=shares_only)
    figures = [
        _figure(words, f"{text_of_title(words)}, {side.name}", f"scheme-{n}", None)
        for n, (words, side) in enumerate(((found.one, one), (found.other, other)))]
    return Beside((one.name, other.name), (figures[0], figures[1]), found.differences)


def _figure(words: Words, title: str, key: str, link: Callable[[Step], str] | None) -> Figure:
    sentences = tuple(words.sentences())
    text = " ".join(sentences)
    address = (lambda leg: link(leg.step)) if link else None
    wide = draw_wide(f"{key}-wide", title, text, words, address)
    narrow = draw_narrow(f"{key}-narrow", title, text, words, address)
    return Figure(
        wide.to_string(), title, text, words.header(), words.rows(),
        narrow.to_string(), is_broad=wide.width > _BROAD)
