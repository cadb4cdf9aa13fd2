"""Whether a page gives a student a number that is hidden until the readings are locked."""

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import combinations

from tests.web.hidden_numbers import Hidden, given_away, hidden_values, numbers_in
from workups.documents import assessment_to_data
from workups.models import BenchStep, ExerciseRevision, Reading, ReadingKind, Work
from workups.models.exercises import read_exercise
from workups.selectors.works import readings_are_locked
from workups.services.assessments import compute_assessment


def leaks_in(text: str, work: Work) -> list[str]:
    """What a page tells before the lock; nothing is hidden any more afterwards."""
    if readings_are_locked(work):
        return []
    hidden = list(_hidden_of_model(work.revision, work.exercise_text))
    for made in (*work.snapshots.all(), *work.self_checks.all()):
        hidden += hidden_values(made.assessment)
    known = frozenset(f"{n:.{d}f}" for n in _numbers_known_to(work) for d in range(4))
    return given_away(text, hidden, known | _printed(work.exercise_text))


@cache
def _hidden_of_model(revision: ExerciseRevision, document: str) -> tuple[Hidden, ...]:
    """What the exercise's own route brings, as this student has the exercise."""
    computed = compute_assessment(revision=revision, plan=None, document=document)
    return tuple(hidden_values(assessment_to_data(computed)))


@cache
def _printed(document: str) -> frozenset[str]:
    """All numbers that the exercise itself says in its texts and amounts."""
    exercise = read_exercise(document)
    texts = exercise.texts
    prose = (texts.summary, texts.background, texts.task, *texts.cautions, *texts.questions)
    given = [
        f"{scale * amount:.{d}f}"
        for r in exercise.setup.reaction.reagents
        for amount in (r.mass_g, r.volume_mL, r.amount_mmol)
        if amount is not None
        for scale in (1, 1000)
        for d in range(4)
    ]
    return frozenset(given) | {number for number, _ in numbers_in(" ".join(prose))}


def _numbers_known_to(work: Work) -> Iterator[float]:
    """What the student or a partner typed, and what a bench page reckons from it."""
    plans = [plan.data["steps"] for plan in work.plan_revisions.all()]
    record = work.bench_record
    if record is not None:
        plans += [record.plan_revision.data["steps"]]
        plans += [[step.data] for step in BenchStep.objects.filter(record=record)]
        yield from _numbers_read(Reading.objects.filter(record=record))
    for steps in plans:
        for step in steps:
            for value in {**step, **step.get("typed", {})}.values():
                try:
                    yield float(value)
                except (TypeError, ValueError):
                    continue


def _numbers_read(readings: Iterable[Reading]) -> Iterator[float]:
    """Readings, and every mass by difference, means of several included."""
    found = list(readings)
    masses: dict[str, list[float]] = {ReadingKind.TARE: [], ReadingKind.GROSS: []}
    for reading in found:
        values = [float(v) for v in (reading.value, reading.value_high) if v is not None]
        yield from values
        if len(values) == 2:
            yield values[1] - values[0]
        if reading.kind in masses:
            masses[reading.kind] += values
    grosses = masses[ReadingKind.GROSS]
    for at, to in combinations(range(len(grosses) + 1), 2):
        mean = sum(grosses[at:to]) / (to - at)
        yield from (mean - tare for tare in masses[ReadingKind.TARE])
