"""No cliffs: an amount of a plan that is varied over its range moves the points by small steps.

Each volume, mass and time of a model plan is taken from an eighth to four times what it is. Where
two neighbours differ by much, the amounts between them are tried until they differ by 2 %: what is
left then is a cliff, if the product that is weighed does not fall as steeply (so little solvent
that it dissolves in the water makes no layer). Those in ``JUDGED`` are meant, with the reason.
One exercise by default, ten with LONG_TESTS=1 (see ``.ci/long``);
``python -m tests.grading.test_no_cliffs [exercise ...]`` prints them all.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import pytest

from tests.long import IS_LONG
from workups.chemistry.plan import Plan, Step
from workups.documents import check_plan, library_names
from workups.exercise.exercise import Exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment

from .matrix import total
from .plans import carried_out, every_exercise, weighed_shares
from .planted import findings

DRAWS = 24
SMALL_STEP = 2.5
NEIGHBOURS = 1.02
FROM, TO, TRIED = 1 / 8, 4.0, 11
AMOUNTS = ("volume_mL", "mass_g", "minutes", "hold_min")

# Most points for the product that is lost: 65 of 90 by 1.25, of three draws in four.
POINTS_OF_ALL = 140.0

# What may jump, and why.
JUDGED = {
    "oxidant-extracted": "bleach is destroyed or it is not: by stoichiometry, and a person looks",
}

TEN = (*library_names(), "isopentyl-acetate-neat")
EXERCISES = TEN if IS_LONG else ("plain-ether",)


@dataclass(frozen=True)
class Cliff:
    """Points of 90 lost or won between two amounts that are next to each other, and by whom."""

    step: str
    field: str
    amounts: tuple[float, float]
    points: tuple[float, float]
    codes: tuple[str, ...]

    def __str__(self) -> str:
        a, b = self.amounts
        p, q = self.points
        return f"{self.step} {self.field} {a:.4g} to {b:.4g}: {p:.1f} to {q:.1f}, {self.codes}"


def _of_codes(assessment: Assessment) -> dict[str, float]:
    points = {c.name: c.out_of for c in assessment.checks}
    found: dict[str, float] = {}
    for f in findings(assessment):
        if f.charged:
            found[f.code] = found.get(f.code, 0.0) + f.score_loss * points[f.check]
    return found


def cliffs(exercise: Exercise, step: Step, field: str) -> Iterator[Cliff]:
    """The cliffs of one amount of the model plan."""
    usual = float(getattr(step, field))

    def varied(amount: float) -> Plan:
        return exercise.model_plan.replacing(replace(step, **{field: amount}))

    @cache
    def assessed(amount: float) -> Assessment | None:
        plan = varied(amount)
        return None if check_plan(plan, exercise) else assess(exercise, plan, draws=DRAWS)

    def weighed(amount: float) -> dict[str, float]:
        return weighed_shares(exercise, carried_out(exercise, varied(amount), DRAWS))

    def between(a: float, b: float) -> Iterator[Cliff]:
        one, two = assessed(a), assessed(b)
        if one is None or two is None or abs(total(one) - total(two)) <= SMALL_STEP:
            return
        if b / a <= NEIGHBOURS and abs(total(one) - total(two)) <= (
                SMALL_STEP + POINTS_OF_ALL * max(abs(weighed(a)[t] - weighed(b)[t])
                                                 for t in weighed(a))):
            return
        if b / a > NEIGHBOURS:
            middle = (a * b) ** 0.5
            yield from between(a, middle)
            yield from between(middle, b)
            return
        before, after = _of_codes(one), _of_codes(two)
        changed = {c: abs(before.get(c, 0.0) - after.get(c, 0.0)) for c in {*before, *after}}
        most = sorted((c for c in changed if changed[c] > 0.5), key=lambda c: -changed[c])
        yield Cliff(step.id, field, (a, b), (total(one), total(two)), tuple(most))

    ratio = (TO / FROM) ** (1 / (TRIED - 1))
    tried = [usual * FROM * ratio ** i for i in range(TRIED)]
    for a, b in pairwise(tried):
        yield from between(a, b)


def every_cliff(key: str) -> Iterator[Cliff]:
    """The cliffs of all amounts of a model plan."""
    exercise = next(e for e in every_exercise() if e.key == key)
    for step in exercise.model_plan.steps:
        for field in AMOUNTS:
            if isinstance(getattr(step, field, None), float | int) and getattr(step, field) > 0:
                yield from cliffs(exercise, step, field)


def test_acid_left_in_the_product_costs_more_from_its_limit_on_and_does_not_jump_there() -> None:
    """At 1 % of acid 12 % of the order check went at once."""
    exercise = next(e for e in every_exercise() if e.key == "too-much-vinegar")
    plan = exercise.model_plan
    assert [str(c) for c in cliffs(
        exercise, plan.steps[plan.index("wash-bicarbonate")], "volume_mL")] == []


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("key", EXERCISES)
def test_no_amount_has_a_cliff_that_is_not_meant(key: str) -> None:
    assert [str(c) for c in every_cliff(key) if not set(c.codes) & set(JUDGED)] == []


if __name__ == "__main__":
    for name in sys.argv[1:] or TEN:
        for cliff in every_cliff(name):
            judged = "judged" if set(cliff.codes) & set(JUDGED) else "CLIFF"
            print(f"{name:24} {judged:7} {cliff}", flush=True)  # noqa: T201
