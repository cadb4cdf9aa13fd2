"""Which drying agent, how much, how long."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from workups.chemistry import plan as p
from workups.grading.assessment import Strength

from .labs import amine, ether, hydride, published, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

TABLES: Tables = {
    "agent-incompatible": Table(
        breaks={
            "calcium chloride with an alcohol": lambda: hydride().offering(
                "calcium_chloride").edited("dry", agent="calcium_chloride", mass_g=2.0),
            "calcium chloride with an amine": lambda: amine().edited(
                "dry", agent="calcium_chloride", mass_g=2.0),
        },
        keeps={"potassium carbonate with an amine": amine},
        looks_wrong={"calcium chloride with an ether": ether},
    ),
    "too-little-agent": Table(
        breaks={
            "a pinch": lambda: ether().edited("dry", endpoint="weighed", mass_g=0.08),
            "just enough, and clumped": lambda: vinegar().edited(
                "dry", endpoint="weighed", mass_g=0.3),
        },
        keeps={"until loose": ether},
        looks_wrong={"a weighed amount that does": lambda: vinegar().edited(
            "dry", endpoint="weighed", mass_g=2.0)},
    ),
    "too-short-drying": Table(
        breaks={"sodium sulfate for one minute": lambda: vinegar().edited(
            "dry", agent="sodium_sulfate", minutes=1.0)},
        keeps={"sodium sulfate for a quarter of an hour": lambda: vinegar().edited(
            "dry", agent="sodium_sulfate", minutes=15.0)},
        looks_wrong={
            "magnesium sulfate for two minutes": lambda: vinegar().edited("dry", minutes=2.0),
            "overnight": lambda: vinegar().edited("dry", minutes=900.0),
        },
    ),
    "too-much-agent": Table(
        breaks={"a thick cake, not rinsed": lambda: vinegar().edited(
            "dry", endpoint="weighed", mass_g=15.0).edited("filter", rinses=0)},
        keeps={"until loose": vinegar},
        looks_wrong={
            "one portion too many": lambda: vinegar().edited(
                "dry", endpoint="weighed", mass_g=2.0),
            "three spoons where one does, well rinsed": lambda: ether().edited(
                "dry", endpoint="weighed", mass_g=6.0),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_agent_that_may_just_do_is_information() -> None:
    [hit] = found("too-little-agent", vinegar().edited("dry", endpoint="weighed", mass_g=0.3))
    assert hit.remark.strength is Strength.INFORMATION
    assert hit.fair


def test_a_pinch_is_far_short_and_costs_marks() -> None:
    [hit] = found("too-little-agent", ether().edited("dry", endpoint="weighed", mass_g=0.08))
    used, needed = (n.value for n in hit.remark.numbers[:2])
    assert needed > 4 * used
    assert hit.remark.score_loss > 0.5


def test_agent_put_in_by_halves_is_judged_by_all_of_it() -> None:
    """The second gram was held against what two grams were needed for."""
    lab = published("carbene-adduct-dichloromethane").edited("dry", mass_g=1.0)
    again = lab.after("dry", p.Dry(id="more", flask="organic layer", agent="magnesium_sulfate",
                                   endpoint="weighed", mass_g=1.0, minutes=15.0))
    [hit] = found("too-little-agent", again)
    assert hit.remark.score_loss == 0.0


def test_what_too_little_agent_costs_rises_from_nothing() -> None:
    costs = [max((hit.remark.score_loss for hit in found("too-little-agent", ether().edited(
        "dry", endpoint="weighed", mass_g=0.01 * grams))), default=0.0)
        for grams in range(40, 4, -1)]
    assert costs[0] == 0.0
    assert costs[-1] > 0.5
    assert max(b - a for a, b in pairwise(costs)) < 0.1


def test_a_drying_agent_of_a_layer_without_product_is_nobodys_business() -> None:
    lab = three().before("dry-n", p.Dry(
        id="extra", flask="flask B", agent="magnesium_sulfate", endpoint="weighed", mass_g=0.1))
    assert found("too-much-agent", lab) == []


def test_an_agent_added_in_two_steps_is_judged_by_the_last() -> None:
    """A pinch and then until it stays loose is not too little; the pinch alone is."""
    whole = vinegar()
    dry = next(s for s in whole.plan.steps if isinstance(s, p.Dry))
    pinch = replace(dry, endpoint="weighed", mass_g=0.1)
    alone = replace(whole, plan=whole.plan.replacing(pinch))
    assert found("too-little-agent", alone)
    rest = replace(dry, id="dry-again")
    both = alone.plan.inserting(alone.plan.index(dry.id) + 1, rest)
    assert found("too-little-agent", replace(alone, plan=both)) == []


def test_less_agent_and_a_rinse_are_no_remedy_for_what_the_agent_binds() -> None:
    """5 g of calcium chloride on an amine: one finding, and it says what no rinse brings back."""
    lab = amine().edited("dry", agent="calcium_chloride", endpoint="weighed", mass_g=5.0)
    [hit] = found("agent-incompatible", lab)
    assert "a rinse does not bring it back" in hit.remark.message
    assert found("too-much-agent", lab) == []
    unrinsed = lab.edited("filter", rinses=0)
    bound = hit.remark.numbers[0].value / 100
    for held in found("cake-not-rinsed", unrinsed):
        assert held.remark.numbers[0].value / 100 < 1.0 - bound


def test_how_much_an_agent_binds_at_most_is_an_estimate_with_a_spread() -> None:
    """It was four fifths in every draw, and the points followed that as if it were known."""
    lab = amine().edited("dry", agent="calcium_chloride", endpoint="weighed", mass_g=40.0)
    [hit] = found("agent-incompatible", lab)
    drying = hit.case.run.outcome("dry").facts.drying
    assert drying is not None
    [target] = hit.case.targets
    share = drying.bound_product[target] / hit.case.available(target)
    assert share[0] == pytest.approx(0.6, abs=0.05)
    assert share.max() <= 1.0
    assert share.max() - share.min() > 0.3
