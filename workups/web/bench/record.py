"""A bench record as the forms of the bench see it, and the places of its page.

One step at a time: the place is in the address (``?step=``), so that links lead back and on without
a script. The page holds every step; ``static/js/bench_steps.js`` shows another of them without
asking the server.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from typing import Any
from urllib.parse import urlencode

from django.http import Http404
from django.urls import reverse

from workups.chemistry.plan import Step
from workups.documents import step_to_data
from workups.exercise.exercise import Exercise
from workups.grading.reagent_table import ReagentLine
from workups.models import BenchRecord, BenchStep, EntrySource, Person, Reading, Work
from workups.selectors.bench import standing_readings, step_entries
from workups.selectors.bench_lines import BenchLine, steps_as_done
from workups.selectors.reagents import lines_of


class Bench:
    """A record as its forms see it: whose, through which door, and what stands in it."""

    def __init__(
        self,
        person: Person,
        work: Work,
        record: BenchRecord,
        source: EntrySource = EntrySource.BENCH,
    ) -> None:
        self.person, self.work, self.record, self.source = person, work, record, source

    @cached_property
    def exercise(self) -> Exercise:
        return self.work.to_core()

    @cached_property
    def planned(self) -> list[Step]:
        return list(self.record.plan_revision.to_core().steps)

    @cached_property
    def lines(self) -> list[ReagentLine]:
        """What was measured out, the product left out."""
        return [line for line in lines_of(self.work) if not line.is_product]

    @cached_property
    def entries(self) -> Mapping[str, BenchStep]:
        """What was last said of each step."""
        return step_entries(self.record)

    @cached_property
    def readings(self) -> list[Reading]:
        """Those that hold."""
        return standing_readings(self.record)

    @cached_property
    def done(self) -> list[dict[str, Any]]:
        """The steps in the order worked down, skipped ones left out."""
        return steps_as_done(self.record)

    @cached_property
    def known(self) -> dict[str, dict[str, Any]]:
        """Every step as planned, and added ones as they were added, as plain data."""
        added = [dict(e.data) for e in self.entries.values() if e.mark == "added"]
        return {step["id"]: step for step in (*map(step_to_data, self.planned), *added)}

    def step(self, step_id: str) -> dict[str, Any]:
        """The step as it stands: as really done, else as planned; empty where there is none."""
        entry = self.entries.get(step_id)
        return dict(entry.data) if entry else self.known.get(step_id, {})

    def step_or_404(self, step_id: str) -> dict[str, Any]:
        found = self.step(step_id)
        if not found:
            raise Http404
        return found

    @property
    def last_done(self) -> str:
        """The step last said to be done, where an added step most likely belongs."""
        done = [step["id"] for step in self.done if step["id"] in self.entries]
        return done[-1] if done else ""

    def until(self, step_id: str) -> list[dict[str, Any]]:
        """The steps up to and with one; none where it is not there."""
        at = next((i for i, step in enumerate(self.done) if step["id"] == step_id), -1)
        return self.done[: at + 1]


class PaperBench(Bench):
    """The record as the printed sheet has it: the plan, and nothing said of it yet."""

    @cached_property
    def entries(self) -> Mapping[str, BenchStep]:
        return {}

    @cached_property
    def readings(self) -> list[Reading]:
        return []

    @cached_property
    def done(self) -> list[dict[str, Any]]:
        return list(self.known.values())


REST = "rest"  # the place after the last step: weighings, amounts, the lock


def place_of(asked: str, lines: Sequence[BenchLine]) -> str:
    """The place asked for; else the next step, and after the last one the rest."""
    if asked == REST or any(line.id == asked for line in lines):
        return asked
    return next((line.id for line in lines if line.is_next), REST)


def place_after(step_id: str, lines: Sequence[BenchLine]) -> str:
    """Where one goes on after a step was marked: the next one after it that has no mark."""
    at = next((i for i, line in enumerate(lines) if line.id == step_id), -1)
    ahead = next((line.id for line in lines[at + 1 :] if not line.mark), "")
    return ahead or place_of("", lines)


def with_neighbours(lines: Sequence[BenchLine]) -> list[BenchLine]:
    """The same lines, each with the places before and after it."""
    ids = ["", *(line.id for line in lines), REST]
    return [
        replace(line, back=back, ahead=ahead)
        for line, back, ahead in zip(lines, ids, ids[2:], strict=False)
    ]


def bench_address(work: Work, anchor: str = "") -> str:
    """The bench page where an anchor of it is to be seen."""
    url = reverse("show-bench", args=[work.public_id])
    if not anchor:
        return url
    place = anchor.removeprefix("step-") if anchor.startswith("step-") else REST
    return f"{url}?{urlencode({'step': place})}#{anchor}"
