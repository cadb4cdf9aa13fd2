"""Questions about readings, asked as "please check this entry". They never block anything."""

from workups.chemistry.materials import charged_g
from workups.chemistry.readings import Readings, SamplePart, TargetReadings, Weighing
from workups.grading.exercise import Exercise
from workups.grading.record import record_questions
from workups.models import Reading
from workups.selectors.bench import WeighingPair


def weighing_questions(weighings: WeighingPair, exercise: Exercise) -> list[str]:
    """What the grading asks of a record, while it can still be corrected.

    Nothing here is computed from what is hidden: only the readings and what was put in.
    """
    record = TargetReadings(
        weighings=tuple(_weighing(r) for r in (*weighings.tares, *weighings.grosses)),
        parts=tuple(_part(r) for r in weighings.parts),
    )
    asked = record_questions(Readings(targets={"": record}), charged_g(exercise.setup))
    return [f"{question.message} {question.change}" for question in asked]


def _weighing(reading: Reading) -> Weighing:
    return Weighing(
        kind=reading.kind,
        mass_g=float(reading.value or 0),
        flask_number=reading.flask_number,
        balance=reading.balance,
        readability_g=float(reading.readability or 0.01),
        on_pan=tuple(reading.on_pan),
    )


def _part(reading: Reading) -> SamplePart:
    empty, full = float(reading.value or 0), float(reading.value_high or 0)
    return SamplePart(use=reading.flask, empty_g=empty, full_g=full)
