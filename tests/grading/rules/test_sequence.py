"""What must come before what."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.grading.assess import assess

from ..planted import findings
from .labs import ether, hydride, neat, published, three, vinegar
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
    "wet-again-after-drying": Table(
        breaks={
            "dried before the brine": lambda: ether().moved("dry", "wash-brine"),
            "dried before the last water wash": lambda: vinegar().moved("dry", "wash-water"),
            "one of several layers dried before its brine": lambda: three().moved(
                "dry-n", "brine-n"),
        },
        keeps={"dried after the last wash": vinegar},
        looks_wrong={
            "dried twice": lambda: vinegar().before("wash-brine", p.Dry(
                id="early", flask="organic layer", agent="magnesium_sulfate", mass_g=1.0)),
            "one component dried and stripped before the other is washed": three,
            "dried twice, brine between": lambda: three().before("brine-n", p.Dry(
                id="early", flask="organic layer", agent="sodium_sulfate", mass_g=1.0)),
        },
    ),
    "wet-receiver": Table(
        breaks={"filtered into a flask wet from rinsing": lambda: vinegar().edited(
            "filter", receiver="wet from rinsing")},
        keeps={"a clean, dry flask": vinegar},
    ),
    "agent-not-filtered": Table(
        breaks={
            "poured over with the agent": lambda: vinegar().swapped("filter", p.Transfer(
                id="filter", flask="organic layer", into="round-bottom flask")),
            "in no solvent, poured over with it": lambda: neat().swapped("filter", p.Transfer(
                id="filter", flask="ester layer", into="tared flask")),
            "stripped where it was dried": lambda: hydride().without("filter").edited(
                "strip", flask="organic").edited("weigh", flask="organic").edited(
                    "tare", flask="organic"),
        },
        keeps={"filtered": vinegar, "in no solvent, filtered": neat},
        looks_wrong={"decanted from a granular agent": ether},
    ),
    "never-stripped": Table(
        breaks={
            "weighed in its solvent": lambda: ether().without("strip"),
            "one of two flasks": lambda: three().without("strip-l"),
        },
        keeps={"stripped": ether},
        looks_wrong={"a solid collected, its filtrate never stripped": three},
    ),
    "solvent-left": Table(
        breaks={"stopped at 200 mbar": lambda: ether().edited(
            "strip", pressure_mbar=200.0, hold_min=0.0)},
        keeps={"held": ether},
    ),
    "product-boiled-off": Table(
        breaks={"an hour at 60 °C and 5 mbar": lambda: vinegar().edited(
            "strip", hold_min=60.0, bath_C=60.0, pressure_mbar=5.0)},
        keeps={"gently": vinegar},
        looks_wrong={"a hard strip of something that does not boil": lambda: three().edited(
            "strip-l", hold_min=30.0, pressure_mbar=10.0)},
    ),
    "never-weighed": Table(
        breaks={
            "no weighing": lambda: ether().without("weigh"),
            "two of three": lambda: three().without("weigh-a"),
        },
        keeps={"three weighings": three},
    ),
}


@pytest.mark.parametrize(("lab", "said"), [
    (lambda: ether().without("weigh"), "The product is not weighed in this plan."),
    (lambda: three().without("weigh-a"), "Not every product is weighed in this plan."),
    (lambda: three().without("weigh-a", "weigh-l", "weigh-n"),
     "None of the products is weighed in this plan."),
])
def test_a_plan_without_a_weighing_is_not_told_that_some_product_is_weighed(lab, said) -> None:
    assert [h.remark.message for h in found("never-weighed", lab())] == [said]


def test_a_little_solvent_left_takes_no_marks() -> None:
    assert all(h.fair for h in found("solvent-left", ether().edited("strip", hold_min=0.0)))


def test_a_flask_that_was_hardly_stripped_does() -> None:
    lab = ether().edited("strip", method="open", bath_C=25.0, pressure_mbar=1013.0, hold_min=0.0)
    [hit] = found("solvent-left", lab)
    assert hit.remark.numbers[0].value > 50.0
    assert hit.remark.score_loss > 0.1


def test_solvent_left_names_the_stripping_of_that_flask() -> None:
    lab = three().edited("strip-n", pressure_mbar=400.0, hold_min=0.0, bath_C=25.0)
    [hit] = found("solvent-left", lab)
    assert hit.breach.step == "strip-n"
    assert hit.breach.mended is not None
    assert hit.cost is not None
    assert hit.cost.target == "1_4_dimethoxybenzene"
    poured = ether().edited("strip", pressure_mbar=200.0, hold_min=0.0).after(
        "strip", p.Tare(id="vial", flask="vial"),
        p.Transfer(id="over", flask="round-bottom flask", into="vial")).edited(
        "weigh", flask="vial")
    assert [h.breach.step for h in found("solvent-left", poured)] == ["strip"]


def test_the_agent_weighed_with_the_product_is_counted() -> None:
    lab = vinegar().swapped("filter", p.Transfer(
        id="filter", flask="organic layer", into="round-bottom flask"))
    [hit] = found("agent-not-filtered", lab)
    assert hit.cost is not None
    # 1.0 g of magnesium sulfate on 6.3 g of ester or a little less: 16 %, and its water.
    assert 0.13 < hit.cost.foreign.nominal < 0.4


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_dried_before_the_layers_last_water_is_one_mistake() -> None:
    """The mend dried between the brine and a further extract, and left a second finding for it."""
    lab = published("lactone-alkali-back-extraction").moved("dry", "wash-2")
    codes = {f.code for f in findings(assess(lab.exercise, lab.plan, draws=8)) if f.charged}
    assert "wet-again-after-drying" in codes
    assert "not-dried" not in codes
