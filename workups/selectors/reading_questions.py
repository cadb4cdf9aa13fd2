"""Questions about readings, asked as "please check this entry". They never block anything."""

from collections.abc import Iterator

from workups.chemistry.materials import charged_g
from workups.chemistry.readings import Readings, TargetReadings, Weighing
from workups.exercise.exercise import Exercise
from workups.grading.diagnosis.recording import neighbours_swapped
from workups.grading.recorded.record import record_questions
from workups.selectors.bench import WeighingPair, weighing_of
from workups.selectors.bench_readings import part_of
from workups.words.numbers import balance_decimals, fixed


def weighing_questions(weighings: WeighingPair, exercise: Exercise) -> list[str]:
    """What the grading asks of a record, while it can still be corrected; and where the mass cannot
    be, whether two digits of a reading have changed places.

    Nothing here is computed from what is hidden: only the readings and what was put in.
    """
    tares, grosses = ([weighing_of(r) for r in of] for of in (weighings.tares, weighings.grosses))
    record = TargetReadings(
        weighings=(*tares, *grosses), parts=tuple(part_of(r) for r in weighings.parts)
    )
    most_g = charged_g(exercise.setup)
    asked = record_questions(Readings(targets={"": record}), most_g)
    said = [f"{question.message} {question.change}" for question in asked]
    return said + list(_crossed(tares[-1], grosses[-1], most_g) if tares and grosses else [])


def _crossed(tare: Weighing, gross: Weighing, most_g: float) -> Iterator[str]:
    """A reading that, with two neighbouring digits in each other's place, makes an impossible mass
    a possible one."""
    if 0 <= gross.mass_g - tare.mass_g <= most_g:
        return
    for what, read, other, sign in (("gross", gross, tare, 1), ("tare", tare, gross, -1)):
        for turned in neighbours_swapped(read.mass_g, read.readability_g):
            if 0 < sign * (turned - other.mass_g) <= most_g:
                shown = [
                    fixed(g, balance_decimals(read.readability_g)) for g in (read.mass_g, turned)
                ]
                yield (
                    f"The {what} reading says {shown[0]} g. Was it {shown[1]} g, with two "
                    "neighbouring digits the other way round? Please check it against the "
                    "notebook or the balance."
                )
