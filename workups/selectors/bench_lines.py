"""The bench record as a list to work down: planned steps, what became of them, added ones."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from uuid import UUID, uuid4

from workups.chemistry.plan import Step
from workups.documents import step_from_data, step_to_data
from workups.exercise.exercise import Exercise
from workups.models import BenchRecord, BenchStep, BenchTick, Reading
from workups.selectors.bench import standing_readings, step_entries
from workups.selectors.plans import plan_problems, step_name
from workups.words.cautions import step_caution
from workups.words.sentences import step_sentence


@dataclass(frozen=True)
class BenchLine:
    """One step at the bench. `mark` is empty until something was said about it.

    `links` are addresses and words of what else may be recorded of it, `back` and `ahead` the
    places before and after it. `token` is what the form of this step sends, so that a tap counts
    once.
    """

    number: int | None
    step: Step
    id: str
    title: str
    heading: str
    sentence: str
    planned: str
    caution: str
    note: str
    mark: str
    entry: BenchStep | None
    readings: tuple[Reading, ...]
    ticks: tuple[BenchTick, ...]
    is_next: bool = False
    links: tuple[tuple[str, str], ...] = ()
    back: str = ""
    ahead: str = ""
    questions: tuple[str, ...] = ()
    token: UUID = field(default_factory=uuid4)

    @property
    def is_added(self) -> bool:
        return self.mark == "added"


def bench_lines(record: BenchRecord, exercise: Exercise) -> list[BenchLine]:
    """Planned steps in order, each followed by the steps added after it."""
    entries = step_entries(record)
    sources = _Sources(
        exercise=exercise,
        entries=entries,
        readings=standing_readings(record),
        ticks=list(record.ticks.select_related("by")),
    )
    lines = list(_added_lines("", sources))
    for number, step in enumerate(record.plan_revision.to_core().steps, 1):
        lines.append(_planned_line(number, step, sources))
        lines.extend(_added_lines(step.id, sources))
    return _with_next(_with_questions(lines, record, exercise))


@dataclass(frozen=True)
class _Sources:
    exercise: Exercise
    entries: Mapping[str, BenchStep]
    readings: list[Reading]
    ticks: list[BenchTick]


def _planned_line(number: int, planned: Step, sources: _Sources) -> BenchLine:
    entry = sources.entries.get(planned.id)
    step = planned if entry is None else step_from_data(entry.data)
    return _line(number, step, planned, entry, sources)


def _added_lines(after: str, sources: _Sources) -> Iterable[BenchLine]:
    for entry in sources.entries.values():
        if entry.mark == "added" and entry.after == after:
            step = step_from_data(entry.data)
            yield _line(None, step, step, entry, sources)
            yield from _added_lines(entry.step_id, sources)


def _line(
    number: int | None, step: Step, planned: Step, entry: BenchStep | None, sources: _Sources
) -> BenchLine:
    return BenchLine(
        number=number,
        step=step,
        id=step.id,
        title=step.title,
        heading=step_name(step, sources.exercise),
        sentence=step_sentence(step, sources.exercise),
        planned=step_sentence(planned, sources.exercise) if step != planned else "",
        caution=step_caution(step, sources.exercise),
        note=step.note,
        mark=entry.mark if entry else "",
        entry=entry,
        readings=tuple(r for r in sources.readings if r.step_id == step.id),
        ticks=tuple(t for t in sources.ticks if t.step_id == step.id),
    )


def _with_questions(
    lines: list[BenchLine], record: BenchRecord, exercise: Exercise
) -> list[BenchLine]:
    """The same lines; where steps as marked cannot follow each other, a question beside them."""
    asked: dict[str, list[str]] = {}
    for problem in plan_problems(steps_as_done(record), exercise):
        asked.setdefault(problem.step_id, []).append(problem.message)
    return [replace(line, questions=tuple(asked.get(line.id, ()))) for line in lines]


def _with_next(lines: list[BenchLine]) -> list[BenchLine]:
    """The same lines, the first one that nothing was said about marked as next."""
    at = next((i for i, line in enumerate(lines) if not line.mark), None)
    if at is None:
        return lines
    lines[at] = replace(lines[at], is_next=True)
    return lines


def last_marked(lines: Iterable[BenchLine]) -> BenchLine | None:
    """The step that something was said about last, to be taken back where one stands."""
    marked = [line for line in lines if line.mark and line.entry and not line.is_added]
    return max(marked, key=lambda line: line.entry.pk if line.entry else 0, default=None)


def steps_as_done(record: BenchRecord) -> list[dict[str, Any]]:
    """The steps in the order worked down, as plain data, skipped ones left out."""
    entries = step_entries(record)
    planned = [step_to_data(step) for step in record.plan_revision.to_core().steps]
    done = list(_added_data("", entries))
    for step in planned:
        entry = entries.get(step["id"])
        if entry is None or entry.mark != "skipped":
            done.append(dict(entry.data) if entry else step)
        done.extend(_added_data(step["id"], entries))
    return done


def _added_data(after: str, entries: Mapping[str, BenchStep]) -> Iterable[dict[str, Any]]:
    for entry in entries.values():
        if entry.mark == "added" and entry.after == after:
            yield dict(entry.data)
            yield from _added_data(entry.step_id, entries)
