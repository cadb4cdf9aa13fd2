"""Questions about readings, asked as "please check this entry". They never block anything."""

from workups.chemistry.materials import charged_g
from workups.chemistry.readings import Readings, TargetReadings
from workups.exercise.exercise import Exercise
from workups.grading.recorded.record import record_questions
from workups.selectors.bench import WeighingPair, weighing_of
from workups.selectors.bench_readings import part_of


def weighing_questions(weighings: WeighingPair, exercise: Exercise) -> list[str]:
    """What the grading asks of a record, while it can still be corrected.

    Nothing here is computed from what is hidden: only the readings and what was put in.
    """
    record = TargetReadings(
        weighings=tuple(weighing_of(r) for r in (*weighings.tares, *weighings.grosses)),
        parts=tuple(part_of(r) for r in weighings.parts),
    )
    asked = record_questions(Readings(targets={"": record}), charged_g(exercise.setup))
    return [f"{question.message} {question.change}" for question in asked]
