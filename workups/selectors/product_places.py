"""Where each product is when it is weighed, line by line, from an assessment's ledger."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from workups.chemistry.plan import WASTE, Plan
from workups.chemistry.substances import Tables
from workups.grading.assessment import Assessment, LedgerLine
from workups.grading.points.charges import ledger_words
from workups.grading.visibility import Moment, shown_ledger
from workups.words.material_facts import substance_name
from workups.words.numbers import percent

_WORTH_A_LINE = 0.01
_WIDE = 0.02


@dataclass(frozen=True)
class PlaceLine:
    """One place: where, since which step (number and title, None for none), how it came there, the
    share in words and 0..1, and its range where that is wide."""

    place: str
    step: tuple[int, str] | None
    step_id: str
    how: str
    share: float
    words: str
    interval: str
    is_weighed: bool


@dataclass(frozen=True)
class ProductPlaces:
    """One product with its places: what is weighed first, small losses together at the end."""

    name: str
    lines: tuple[PlaceLine, ...]


def product_places(
    assessment: Assessment, plan: Plan, moment: Moment, known: Tables
) -> list[ProductPlaces]:
    """One table for each product; none for an assessment of a version that kept no ledger.

    Raises ComputedFromHidden as ``visibility`` does.
    """
    ledger = shown_ledger(assessment, moment)
    steps = {s.id: (number, s.title) for number, s in enumerate(plan.steps, 1)}
    targets = dict.fromkeys(line.target for line in ledger)
    return [
        ProductPlaces(
            substance_name(target, known),
            tuple(_lines([x for x in ledger if x.target == target], steps)),
        )
        for target in targets
    ]


def _lines(
    ledger: Iterable[LedgerLine], steps: Mapping[str, tuple[int, str]]
) -> Iterable[PlaceLine]:
    small = 0.0
    for line in sorted(ledger, key=lambda x: (bool(x.how), -x.share)):
        if line.how and line.share < _WORTH_A_LINE:
            small += line.share
            continue
        wide = line.high - line.low >= _WIDE
        yield PlaceLine(
            place="the waste" if line.place == WASTE else line.place,
            step=steps.get(line.step),
            step_id=line.step,
            how=ledger_words()[line.how]["how"] if line.how else "weighed as the product",
            share=max(0.0, line.share),
            words=percent(line.share),
            interval=f"{percent(line.low)} to {percent(line.high)}" if wide else "",
            is_weighed=not line.how,
        )
    if small > 0:
        yield PlaceLine(
            "smaller losses together", None, "", "on glass, in washings, with solids", small,
            percent(small), "", is_weighed=False,
        )
