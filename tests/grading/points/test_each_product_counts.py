"""A loss, a slip and foreign matter cost by the product they are of, be there one or three."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from workups.chemistry.plan import Dry, Plan, Tare
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, CheckResult
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.points.charges import PRODUCT_CHECKS, priced
from workups.grading.points.shortfall import KINDS, Shortfall, shortfall_of

DRAWS = 16
ETHER = library_exercise("plain-ether")  # order 25, extraction 20, drying 20: 65 in all
THREE = library_exercise("three-in-one-bottle")  # order 25, extraction 20, drying 15


def _case() -> Case:
    return Case(ETHER, ETHER.model_plan, model_run(ETHER, 1, DRAWS))


def _points_for(case: Case, products: int, short: float, **excess: float) -> float:
    """What is taken where the first of some products falls short by a share, or has some g/g of
    something beside it beyond its limit, and the others are right."""
    right = shortfall_of(case).targets[0]
    kinds = {kind: np.full(DRAWS, excess.get(kind.replace(" ", "_"), 0.0)) for kind in KINDS}
    first = replace(right, short=np.full(DRAWS, short), excess=kinds)
    rest = [replace(right, short=np.zeros(DRAWS), excess={k: np.zeros(DRAWS) for k in KINDS})]
    written = Shortfall((first, *rest * (products - 1)))
    points = ETHER.rubric.points
    return sum(f.score_loss * points[f.check] for f in priced(case, [], written, written, 0.6)
               if f.charged and f.check in PRODUCT_CHECKS)


@pytest.mark.parametrize("short", [0.06, 0.11, 0.5, 0.9])
def test_a_part_of_one_of_three_products_costs_a_third_of_what_it_costs_alone(
    short: float
) -> None:
    """An amine of which 11 % was left in the water cost nothing beside two others: 4 % of all."""
    case = _case()
    alone = 65 * min(1.0, 1.25 * (short - 0.03))
    assert _points_for(case, 1, short) == pytest.approx(alone, abs=0.06)
    assert _points_for(case, 3, short) == pytest.approx(65 * 1.25 * (short - 0.03) / 3, abs=0.06)


@pytest.mark.parametrize("kind", KINDS)
def test_two_hundredths_beyond_its_limit_of_anything_cost_something(kind: str) -> None:
    """The limit is the allowance; a second one of as much let 4 % of a clinging solvent
    pass."""
    lost = _points_for(_case(), 1, 0.0, **{kind.replace(" ", "_"): 0.02})
    assert 0.2 < lost < 65 * 0.1


def _check(result: Assessment, name: str) -> CheckResult:
    return next(c for c in result.checks if c.name == name)


def _until(plan: Plan, pH: float) -> Plan:
    step = plan.steps[plan.index("basify")]
    return plan.replacing(replace(step, until_pH=pH))


def test_an_amine_left_as_its_salt_costs_what_it_loses_whatever_the_goal_of_its_portions() -> None:
    """At pH 8 a tenth stays in the water. The goal of 90 % is for the portions of solvent."""
    plan = _until(THREE.model_plan, 8.0)
    result = assess(THREE, plan, draws=DRAWS)
    case = Case(THREE, THREE.model_plan, model_run(THREE, 1, DRAWS)).changed(plan)
    lost = float(np.mean([t.short for t in shortfall_of(case).targets], axis=1).max())
    assert lost > 0.06
    assert 100 - result.points == pytest.approx(60 * 1.25 * (lost - 0.03) / 3, abs=0.4)
    assert {f.code for f in _check(result, "order").findings if f.charged} == {"not-set-free"}


@pytest.mark.parametrize(("check", "edit"), [
    ("order", lambda p: p.without(*(s.id for s in p.steps if isinstance(s, Tare)))),
    ("drying", lambda p: Plan(tuple(
        replace(s, minutes=0.1, mass_g=5.0, endpoint="weighed") if isinstance(s, Dry) else s
        for s in p.steps)))], ids=["no tare", "no time to dry"])
def test_a_slip_made_with_every_product_costs_as_much_of_its_check_as_with_one(check, edit) -> None:
    """Three dishes without a tare cost the whole check of order: 0.4 each, and 1 together."""
    lost = {}
    for exercise in (ETHER, THREE):
        result = _check(assess(exercise, edit(exercise.model_plan), draws=DRAWS), check)
        lost[exercise.key] = 1.0 - result.score
    assert lost[THREE.key] <= lost[ETHER.key] + 0.03
    assert lost[THREE.key] > 0.05


def test_a_clinging_solvent_that_no_water_takes_out_is_charged_under_its_own_name() -> None:
    """4 % of sulfoxide cost nothing; of a solvent that comes off 5 % are allowed, of one that
    stays 1 %."""
    exercise = library_exercise("clinging-solvent")
    plan = exercise.model_plan.without(
        "wash-water", "discard-washings", "wash-brine", "discard-brine")
    result = assess(exercise, plan, draws=DRAWS)
    found = _check(result, "order").findings
    assert 2.0 < result.out_of - result.points < 9.0
    assert [f.code for f in found if f.charged] == ["cosolvent-left-in-product"]
