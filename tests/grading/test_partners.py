"""Two plans and one record: what each part of a partner's assessment comes from."""

from dataclasses import replace

import pytest

from workups.chemistry.plan import Plan
from workups.chemistry.readings import DryingRecord, Readings, TargetReadings, Weighing
from workups.documents import library_exercise
from workups.grading.assess import assess
from workups.grading.partners import with_shared_bench

TARGET = "hexyl_acetate"


@pytest.fixture(scope="module")
def assessments():
    """The partner planned no bicarbonate wash; the shared plan was the model plan, done wet."""
    exercise = library_exercise("too-much-vinegar")
    shared = exercise.model_plan
    own = Plan(tuple(s for s in shared.without("wash-bicarbonate").steps
                     if "bicarbonate washings" not in str(s)))
    readings = Readings(
        targets={TARGET: TargetReadings((Weighing("tare", 45.30), Weighing("gross", 51.24),
                                         Weighing("gross", 51.24)))},
        drying=(DryingRecord("dry", 0.01, 1, "clumped", "cloudy", 1.0),),
    )
    return {
        "own": assess(exercise, own, draws=4),
        "shared": assess(exercise, shared, draws=4),
        "bench": assess(exercise, shared, readings, draws=4),
    }


def check(assessment, name):
    return next(c for c in assessment.checks if c.name == name)


def test_order_comes_from_the_own_plan_and_the_yield_from_the_record(assessments):
    joined = with_shared_bench(assessments["own"], assessments["shared"], assessments["bench"])
    for name in ("order", "extraction", "layers_safety"):
        assert check(joined, name) == check(assessments["own"], name)
    assert check(joined, "yield") == check(assessments["bench"], "yield")
    assert joined.readings == assessments["bench"].readings
    assert joined.steps == assessments["own"].steps


def test_drying_is_the_own_plan_less_what_the_bench_lost(assessments):
    joined = with_shared_bench(assessments["own"], assessments["shared"], assessments["bench"])
    planned, done = (check(assessments[name], "drying") for name in ("shared", "bench"))
    lost = planned.score - done.score
    assert lost > 0
    expected = max(0.0, check(assessments["own"], "drying").score - lost)
    assert check(joined, "drying").score == pytest.approx(expected, abs=1e-12)
    assert check(joined, "drying").points == pytest.approx(
        expected * check(joined, "drying").out_of, abs=1e-12
    )


def test_with_the_same_plan_the_record_decides(assessments):
    joined = with_shared_bench(
        assessments["shared"], assessments["shared"], assessments["bench"]
    )
    bench = assessments["bench"]
    assert [round(c.score, 12) for c in joined.checks] == [round(c.score, 12) for c in bench.checks]
    assert joined == replace(joined, readings=bench.readings)
