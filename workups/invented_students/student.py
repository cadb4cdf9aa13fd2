"""One simulated student: a plan, a hidden world in which it is carried out, and the record."""

from dataclasses import dataclass, replace

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.readings import DoneStep, Readings
from workups.chemistry.run import simulate
from workups.chemistry.yields import with_actual_amounts
from workups.exercise.exercise import Exercise
from workups.grading.slips import NOTHING_WRONG, SLIPS, priors
from workups.words.numbers import balance_decimals

from .accidents import Accident, can_happen, possible_accidents
from .dice import Dice
from .habits import AS_EXPECTED, Habits
from .truth import Truth, truth_of, world_of
from .writing import drying_records, target_readings, volumes

HIDDEN_SEED = 7_450_003


@dataclass(frozen=True)
class SimulatedStudent:
    """A plan, what was recorded, and the slip that was made (a key of ``SLIPS``)."""

    plan: Plan
    readings: Readings
    slip: str


def applicable_slips(exercise: Exercise, plan: Plan) -> tuple[str, ...]:
    """Keys of the slips that can happen with this plan."""
    return tuple(k for k in SLIPS if can_happen(exercise, plan, k))


def simulate_student(
    exercise: Exercise,
    seed: int,
    slip: str | None = None,
    *,
    plan: Plan | None = None,
    amounts_vary: bool = True,
    habits: Habits = AS_EXPECTED,
) -> SimulatedStudent:
    """A whole bench record of one student.

    Parameters
    ----------
    seed : from 0; the same gives the same student. It also picks the hidden draw of constants.
    slip : a key of ``SLIPS``; None draws one at the exercise's priors.
    plan : the student's plan; None takes the model plan or one of the alternatives.
    amounts_vary : whether reagents are weighed a little off the plan and recorded.
    habits : how frequent and how large slips are, over what the list takes for granted.

    Raises
    ------
    ValueError : the slip cannot happen with this plan.
    """
    dice = Dice(seed)
    plan = plan or dice.pick("plan", (exercise.model_plan, *exercise.alternatives))
    actual = _amounts(exercise, dice) if amounts_vary else {}
    real = replace(exercise, setup=with_actual_amounts(exercise.setup, actual))
    accident = draw_accident(real, plan, slip, dice, habits)
    run = simulate(accident.plan, accident.setup, Draws(HIDDEN_SEED, 1, seed + 1))
    truth = truth_of(world_of(run), accident, 0, dice)
    return SimulatedStudent(plan, written(real, plan, truth, dice, actual), accident.slip)


def draw_accident(
    exercise: Exercise, plan: Plan, slip: str | None, dice: Dice, habits: Habits = AS_EXPECTED
) -> Accident:
    """A slip at the priors (or the one given), and one of the ways it can come about."""
    if slip is None:
        weights = priors(exercise.priors)
        possible = [
            (k, habits.weight(k, weights[k], NOTHING_WRONG))
            for k in applicable_slips(exercise, plan)
        ]
        slip = dice.weighted("slip", possible)
    ways = possible_accidents(exercise, plan, slip, habits.size)
    if not ways:
        raise ValueError(f"the slip {slip!r} cannot happen with this plan")
    return dice.pick("way", ways)


def written(
    exercise: Exercise, plan: Plan, truth: Truth, dice: Dice, actual: dict[str, float]
) -> Readings:
    """The record that a student makes of the bench."""
    setup = exercise.setup
    return Readings(
        steps=tuple(DoneStep(s, "done") for s in plan.steps),
        reagents=actual,
        targets={t.substance: target_readings(truth, t, setup, dice) for t in setup.targets},
        drying=drying_records(truth, plan, dice),
        volumes=volumes(truth, dice),
    )


def _amounts(exercise: Exercise, dice: Dice) -> dict[str, float]:
    """Reagents as they were measured out, one or two per cent off the plan."""
    decimals = balance_decimals(exercise.setup.glassware.balance_readability_g)
    found: dict[str, float] = {}
    for reagent in exercise.setup.reaction.reagents:
        planned = reagent.mass_g if reagent.mass_g is not None else reagent.volume_mL
        if planned is None or reagent.staff_dispensed or reagent.composition:
            continue
        if reagent.substance not in exercise.setup.tables.substances:
            continue
        off = 1.0 + 0.01 * dice.normal(f"amount:{reagent.substance}")
        places = decimals if reagent.mass_g is not None else 1
        found[reagent.substance] = round(planned * off, places)
    return found
