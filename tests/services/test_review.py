"""What a finding cost, and what overruling it gives back: by hand, from the rule of the check."""

from dataclasses import replace

import pytest

from workups.grading.assessment import (
    CheckResult,
    Finding,
    Hypothesis,
    Strength,
    TargetYield,
    Verdict,
)
from workups.grading.rule import RULES
from workups.selectors.review import facts_of
from workups.selectors.staff_report import costs_of, points_without


def finding(code: str, loss: float, *, charged: bool = True, check: str = "order") -> Finding:
    return Finding(
        code, check, Strength.ADVICE, "wash", "m", "c", "w", "s", score_loss=loss, charged=charged
    )


def check(name: str, score: float, out_of: float, *findings: Finding) -> CheckResult:
    return CheckResult(name, score, round(score * out_of, 2), out_of, findings)


def test_without_its_one_fault_a_check_is_full():
    fault = finding("brine-not-last", 0.2)
    assert points_without(check("order", 0.8, 25, fault), fault) == pytest.approx(25)


def test_of_two_faults_one_stays():
    one, two = finding("brine-not-last", 0.2), finding("no-brine", 0.3)
    found = points_without(check("order", 0.5, 20, one, two), one)
    assert found == pytest.approx(0.7 * 20)


def test_where_losses_sum_to_more_than_all_only_what_is_left_comes_back():
    """1 - 0.9 - 0.5 is below 0: the check has 0, and without the 0.5 it has 0.1."""
    one, two = finding("brine-not-last", 0.9), finding("no-brine", 0.5)
    found = points_without(check("order", 0.0, 20, one, two), two)
    assert found == pytest.approx(0.1 * 20)


def test_a_finding_of_the_drying_check_counts_as_its_share_of_that_check():
    """Half of the plan's part of 0.6 is 0.3 of the check: without it the check is full."""
    code = next(r.code for r in RULES.values() if r.check == "drying")
    fault = finding(code, 0.3, check="drying")
    found = points_without(check("drying", 0.7, 20, fault), fault)
    assert found == pytest.approx(20)


def test_what_was_not_charged_or_has_a_scale_of_its_own_gives_no_number():
    shown = finding("brine-not-last", 0.0, charged=False)
    assert points_without(check("order", 1.0, 25, shown), shown) is None
    above = finding("above-theoretical", 1.0, check="yield")
    assert points_without(check("yield", 0.0, 10, above), above) is None


def test_the_costs_of_a_check_sum_to_what_it_lost():
    """Losses of 0.9 and 0.6 take all 20 points: 12 and 8, though either alone would take more."""
    one, two = finding("brine-not-last", 0.9), finding("no-brine", 0.6)
    shown = finding("no-brine", 0.0, charged=False)
    found = costs_of(check("order", 0.0, 20, one, shown, two))
    assert found == pytest.approx([12, 0, 8])


def test_each_product_of_the_yield_check_costs_its_own():
    """Three products, scores 1, 0.4 and 0.7: their mean 0.7 of 10 points."""
    low = finding("yield-below-band", 0.6, check="yield")
    high = finding("yield-above-band", 0.3, check="yield")
    assert costs_of(check("yield", 0.7, 10, low, high)) == pytest.approx([2, 1])


def test_plan_and_bench_of_drying_cost_their_own_parts():
    """1 - 0.3 - 0.3 = 0.4 of 20 points: 6 lost by the plan, 6 at the bench."""
    code = next(r.code for r in RULES.values() if r.check == "drying")
    plan = finding(code, 0.3, check="drying")
    bench = finding("bench-too-little-agent", 0.3, check="drying")
    assert costs_of(check("drying", 0.4, 20, plan, bench)) == pytest.approx([6, 6])


def facts(**changed):
    return facts_of(Verdict(**{"expected": (), "checks": ()} | changed))


def reading(percent=88.0, place="inside", mass_g=6.3):
    return TargetYield("hexyl_acetate", mass_g, 0.01, 7.2, percent, 0.2, None, place, place, None)


def cause(key, probability):
    return Hypothesis(key, key, probability, (), "")


def keys(found):
    return [reason.key for reason in found.reasons]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        ({"readings": [reading()]}, []),
        ({"readings": [reading(101.0)]}, ["above"]),
        ({"readings": [reading(40.0, "below")]}, ["outside"]),
        ({"readings": [reading(None, "", None)]}, ["no-reading"]),
        ({"readings": []}, ["no-reading"]),
        ({"readings": [reading()], "diagnosis": [cause("nothing-wrong", 0.4)]}, []),
        ({"readings": [reading()], "diagnosis": [cause("wet", 0.4)]}, ["uncertain"]),
        ({"readings": [reading()], "diagnosis": [cause("wet", 0.9)]}, []),
        (
            {"readings": [reading(40.0, "below")], "diagnosis": [cause("nothing-wrong", 0.5)]},
            ["uncertain", "outside"],
        ),
    ],
)
def test_what_needs_eyes(data, expected):
    assert keys(facts(**data)) == expected


def test_a_hold_and_a_question_need_eyes():
    found = replace(finding("acid-on-carbonate", 0.0), strength=Strength.SAFETY_HOLD)
    asked = replace(finding("above-theoretical", 0.0), question=True)
    given = check("order", 1.0, 25, found, asked)
    assert keys(facts(checks=(given,), readings=(reading(),))) == ["hold", "question"]
