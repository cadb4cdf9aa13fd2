"""What is left blank never earns more than what was written down, honest or poor.

Every record of the stories with one entry after the other left out; one of the records on every
change, all with LONG_TESTS=1 (see ``.ci/long``).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from tests.long import IS_LONG
from workups.chemistry.readings import Readings, TargetReadings
from workups.documents import library_exercise
from workups.grading.assess import assess

from ..stories import STORIES, Story

DRAWS = 8
RECORDED = [s for s in STORIES if s.record is not None]
TRIED = RECORDED if IS_LONG else [
    s for s in RECORDED if s.key == "thrown-away-at-the-bench"]


def with_less(record: Readings) -> Iterator[tuple[str, Readings]]:
    """The record with one thing left out, and what."""
    for row in record.drying:
        others = tuple(r for r in record.drying if r is not row)
        yield "the drying row", replace(record, drying=others)
        for name in ("agent_mass_g", "portions", "minutes"):
            yield name, replace(record, drying=(*others, replace(row, **{name: None})))
        for name in ("agent_look", "liquid_look"):
            yield name, replace(record, drying=(*others, replace(row, **{name: ""})))
    for key, target in record.targets.items():
        for what, less in _of_target(target):
            yield what, replace(record, targets={**record.targets, key: less})
    yield "the remarks", replace(
        record, steps=tuple(replace(done, remark="") for done in record.steps))


def _of_target(target: TargetReadings) -> Iterator[tuple[str, TargetReadings]]:
    for number, weighing in enumerate(target.weighings):
        rest = target.weighings[:number] + target.weighings[number + 1:]
        yield f"weighing {number + 1} ({weighing.kind})", replace(target, weighings=rest)
    yield "all weighings", TargetReadings()
    yield "the witnesses", replace(target, witnesses=())
    yield "the explanation", replace(target, explanation="")


@pytest.mark.parametrize("story", TRIED, ids=lambda s: s.key)
def test_an_entry_left_out_earns_no_more_than_it_did(story: Story) -> None:
    assert story.record is not None
    plan, exercise = story.plan, library_exercise(story.exercise)
    record = story.record(plan)
    full = assess(exercise, plan, record, draws=DRAWS).unrounded
    paid = {what: points for what, less in with_less(record)
            if (points := assess(exercise, plan, less, draws=DRAWS).unrounded) > full + 0.05}
    assert paid == {}, full
