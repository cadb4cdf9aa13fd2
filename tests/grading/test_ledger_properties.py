"""What must hold of the mark of any plan that the form accepts.

The plans come from ``plans.py``: random ones of one to sixty steps and right routes with a few
changes, over the library's exercises and the published procedures. A few by default, many with
LONG_TESTS=1 (see ``.ci/long``). What a plan recovers is taken from the simulation alone, as the
mean of the draws, and never from a rule.
"""

from __future__ import annotations

import re
from functools import cache

import numpy as np
import pytest

from tests.long import count
from workups.chemistry.plan import Plan, Tare, Weigh
from workups.chemistry.readings import DoneStep, Readings, TargetReadings, Weighing
from workups.chemistry.run import Run
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.grading.exercise import Exercise
from workups.grading.ledger import ledger_of

from .plans import (
    MORE_FLASKS,
    any_plan,
    carried_out,
    edited_plan,
    every_exercise,
    harmed,
    respelled,
    weighed_foreign_g,
    weighed_mmol,
    weighed_shares,
)
from .planted import findings

DRAWS = 8
MANY = count(12, 400)
# Seeds that found a wrong mark once are always tried.
FOUND = (28, 42)
SEEDS = sorted({*range(MANY), *FOUND})
NOTHING = 0.01
NO_PRODUCT_POINTS = 0.25
LESS = 0.01
SAME_POINTS = 0.1


def exercise_of(seed: int) -> Exercise:
    """Exercises in turn, so that neighbouring seeds try different ones."""
    return every_exercise()[seed % len(every_exercise())]


@cache
def assessed(seed: int) -> Assessment:
    """The plan of a seed, assessed."""
    return assess(exercise_of(seed), any_plan(exercise_of(seed), seed), draws=DRAWS)


def charged_codes(assessment: Assessment) -> list[str]:
    """Codes of the findings that cost points, in order of name."""
    return sorted({f.code for f in findings(assessment) if f.charged and f.score_loss > 1e-3})


def _said(plan: Plan) -> str:
    return "\n".join(map(str, plan.steps))


# --- 1 total -----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_any_plan_gets_an_assessment(seed: int) -> None:
    result = assessed(seed)
    assert 0.0 <= result.points <= result.out_of


# --- 2 no product, no product points -----------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_no_product_in_a_weighed_flask_earns_no_product_points(seed: int) -> None:
    exercise = exercise_of(seed)
    plan = any_plan(exercise, seed)
    if max(weighed_shares(exercise, carried_out(exercise, plan, DRAWS)).values()) > NOTHING:
        return
    result = assessed(seed)
    assert result.points <= NO_PRODUCT_POINTS * result.out_of + 1e-9, _said(plan)


# --- 3 monotone --------------------------------------------------------------------------------


def foreign_share(exercise: Exercise, run: Run) -> float:
    """Mass fraction of what is weighed that is no target; 1 where nothing is weighed."""
    foreign = sum(weighed_foreign_g(exercise, run).values())
    inv = run.inventory
    product = sum(weighed_mmol(run, t.substance) * float(
        inv.molar_mass[inv.index[t.substance]]) * 1e-3 for t in exercise.setup.targets)
    return foreign / (foreign + product) if foreign + product > 1e-3 else 1.0


def worse(exercise: Exercise, before: Plan, after: Plan) -> bool:
    """Whether a change loses product, or adds foreign matter, and improves neither."""
    one, two = (carried_out(exercise, plan, DRAWS) for plan in (before, after))
    kept, left = weighed_shares(exercise, one), weighed_shares(exercise, two)
    dirty, dirtier = foreign_share(exercise, one), foreign_share(exercise, two)
    if any(left[t] > kept[t] + 1e-3 for t in kept) or dirtier < dirty - 5e-3:
        return False
    return any(left[t] < kept[t] - LESS for t in kept) or dirtier > dirty + LESS


def but_for_safety(assessment: Assessment) -> float:
    """Points of the checks that speak of the product."""
    return sum(c.points for c in assessment.checks if c.name != "layers_safety")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_change_that_only_loses_product_or_adds_foreign_matter_never_raises_the_points(
    seed: int,
) -> None:
    exercise = exercise_of(seed)
    plan = edited_plan(exercise, seed, most=2)
    changed = harmed(plan, exercise, seed)
    if changed is None or not worse(exercise, plan, changed[1]):
        return
    before = but_for_safety(assess(exercise, plan, draws=DRAWS))
    after = but_for_safety(assess(exercise, changed[1], draws=DRAWS))
    assert after <= before + SAME_POINTS, f"{changed[0]}\n{_said(plan)}\n--\n{_said(changed[1])}"


# --- 4 spelling --------------------------------------------------------------------------------


# More flasks keep more film; nothing else may tell two spellings apart.
ON_GLASS = "ledger-left-on-glass"
POINTS_OF_ALL = 110.0


def more_on_glass(exercise: Exercise, before: Plan, after: Plan) -> float:
    """Share of the targets that the second plan leaves on glass and the first does not."""
    one, two = (weighed_shares(exercise, carried_out(exercise, plan, DRAWS))
                for plan in (before, after))
    return max(0.0, *(one[t] - two[t] for t in one))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_plan_written_otherwise_earns_the_same_for_the_same_reasons(seed: int) -> None:
    exercise = exercise_of(seed)
    plan = edited_plan(exercise, seed, most=2)
    changed = respelled(plan, exercise, seed)
    if changed is None:
        return
    before = assess(exercise, plan, draws=DRAWS)
    after = assess(exercise, changed[1], draws=DRAWS)
    said = f"{changed[0]}\n{_said(plan)}\n--\n{_said(changed[1])}"
    film = 0.0
    if changed[0] in MORE_FLASKS:
        film = min(0.05, more_on_glass(exercise, plan, changed[1]))
    codes = set(charged_codes(after)) - ({ON_GLASS} if film else set())
    assert codes == set(charged_codes(before)) - ({ON_GLASS} if film else set()), said
    assert after.points == pytest.approx(
        before.points, abs=SAME_POINTS + POINTS_OF_ALL * film), said


# --- 5 accounts --------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_every_millimole_of_a_target_is_in_one_entry_of_its_ledger(seed: int) -> None:
    exercise = exercise_of(seed)
    run = carried_out(exercise, any_plan(exercise, seed), draws=3)
    for target in exercise.setup.targets:
        ledger = ledger_of(run, target.substance)
        gone = sum((e.mmol for e in ledger.entries), np.zeros(3))
        assert ledger.weighed_mmol + gone == pytest.approx(
            ledger.available_mmol, abs=1e-9 * max(1.0, float(ledger.available_mmol.max())))
        assert ledger.weighed_mmol.mean() <= weighed_mmol(run, target.substance) + 1e-9
        assert all(e.place for e in ledger.entries)


# --- 6 own expectation -------------------------------------------------------------------------


def _as_expected(exercise: Exercise, plan: Plan, result: Assessment) -> Readings | None:
    tared = {s.flask for s in plan.steps if isinstance(s, Tare)}
    if not tared & {s.flask for s in plan.steps if isinstance(s, Weigh)}:
        return None
    readability = exercise.setup.glassware.balance_readability_g
    targets = {}
    for expected in result.expected:
        mass = expected.plan_band.nominal
        if mass < 0.1:
            return None
        gross = Weighing("gross", round(40.0 + mass, 4), readability_g=readability)
        targets[expected.target] = TargetReadings(
            (Weighing("tare", 40.0, readability_g=readability), gross, gross))
    return Readings(steps=tuple(DoneStep(s, "done") for s in plan.steps), targets=targets)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_mass_that_the_own_steps_lead_to_earns_the_yield_points(seed: int) -> None:
    exercise = exercise_of(seed)
    plan = edited_plan(exercise, seed, most=2)
    readings = _as_expected(exercise, plan, assess(exercise, plan, draws=DRAWS))
    if readings is None:
        return
    result = assess(exercise, plan, readings, draws=DRAWS)
    check = next(c for c in result.checks if c.name == "yield")
    assert [(f.code, f.message) for f in check.findings if f.charged] == [], _said(plan)
    assert check.score == pytest.approx(1.0), _said(plan)


# --- 7 agree -----------------------------------------------------------------------------------


# A component's key, as "agent:magnesium_sulfate" or "1_hexanol", has no place in a sentence.
KEY = re.compile(r"agent:|(?<![a-z ] )\b[a-z0-9]+_[a-z0-9_]+\b")
SHARES = ("product lost", "recovered", "product washed out", "product hydrolysed",
          "share of the product")


@pytest.mark.parametrize("seed", SEEDS)
def test_words_numbers_and_points_of_a_finding_agree(seed: int) -> None:
    result = assessed(seed)
    for check in result.checks:
        assert 0.0 <= check.score <= 1.0
        assert check.points == pytest.approx(check.score * check.out_of, abs=0.011)
        lost = sum(f.score_loss for f in check.findings if f.charged)
        if lost == 0.0 and not any(f.question for f in check.findings):
            assert check.score == pytest.approx(1.0) or check.name == "yield", check
    for found in findings(result):
        assert found.score_loss >= 0.0
        assert not KEY.search(found.message + found.change), found.message
        for number in found.numbers:
            assert not KEY.search(number.name), number.name
            if number.unit == "%" and number.name.startswith(SHARES):
                assert -1e-6 <= number.value <= 100.0 + 1e-6, (found.code, number)
