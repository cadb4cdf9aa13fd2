"""One choice of a student's step tried at every value, at the boundary to the core."""

from functools import lru_cache

from workups.chemistry.plan import Plan
from workups.grading.trying import IDEAS, Trial, try_out
from workups.models import Work
from workups.models.exercises import read_exercise
from workups.services.assessments import seed_for
from workups.services.computing import computing


@lru_cache(maxsize=256)
def _try_out(
    document: str, plan: Plan, step_id: str, key: str, seed: int, is_released: bool
) -> Trial | None:
    return try_out(
        read_exercise(document), plan, step_id, IDEAS[key], seed=seed, is_released=is_released)


def tried(
    work: Work, plan: Plan, step_id: str, key: str, *, is_released: bool
) -> Trial | None:
    """What another value of a choice would have done; None where nothing is to be seen.

    With public numbers unless the report is released. Raises CannotBeCarriedOut.
    """
    with computing(f"a trial of a step of work {work.public_id}"):
        return _try_out(
            work.exercise_text, plan, step_id, key, seed_for(work.revision), is_released)
