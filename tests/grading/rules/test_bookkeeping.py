"""What must be on record for a number to mean something."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.grading.assessment import Strength

from .labs import ether, three, vinegar
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
    "flask-not-tared": Table(
        breaks={
            "no tare": lambda: ether().without("tare"),
            "the wrong flask tared": lambda: ether().edited("tare", flask="another flask"),
            "one of three": lambda: three().without("tare-a"),
            "tared with the solution in it": lambda: ether().moved("tare", "strip"),
        },
        keeps={
            "tared before": ether,
            "another vessel weighed on the way": lambda: ether().before(
                "dry", p.Weigh(id="early", flask="ether layer")),
            "what is left of the agent weighed": lambda: ether().after(
                "weigh", p.Weigh(id="agent", flask="ether layer")),
            "the reaction flask weighed first and last": lambda: ether().before(
                "cool", p.Weigh(id="full", flask=p.START_FLASK)).after(
                    "weigh", p.Weigh(id="empty", flask=p.START_FLASK)),
        },
        looks_wrong={
            "tared long before": lambda: ether().moved("tare", "cool"),
            "stripped in any flask, then into a tared vial": lambda: ether().without(
                "tare").before(
                    "weigh", p.Tare(id="tare", flask="vial"),
                    p.Transfer(id="over", flask="round-bottom flask", into="vial",
                               rinse_with="diethyl_ether", rinse_mL=2.0, rinses=2),
                    p.Strip(id="again", flask="vial", bath_C=30.0, pressure_mbar=60.0)).edited(
                        "weigh", flask="vial"),
            "emptied, cleaned and tared after": lambda: ether().without("tare").after(
                "weigh", p.Transfer(id="out", flask="round-bottom flask", into="vial"),
                p.Tare(id="tare", flask="round-bottom flask")),
        },
    ),
    "weighed-before-stripping": Table(
        breaks={"weighed, then stripped": lambda: ether().moved("weigh", "strip")},
        keeps={"stripped, then weighed": ether},
        looks_wrong={"weighed before and after": lambda: ether().before(
            "strip", p.Weigh(id="early", flask="round-bottom flask", readings=1))},
    ),
    "not-labelled": Table(
        breaks={
            "no label": lambda: vinegar().without("label-organic", "label-acid"),
            "no label, required": lambda: vinegar().without(
                "label-organic", "label-acid").choosing("labels", "required"),
        },
        keeps={"labelled": vinegar},
    ),
}


def test_a_missing_label_is_information_unless_the_exercise_asks_for_labels() -> None:
    lab = vinegar().without("label-organic", "label-acid")
    [hit] = found("not-labelled", lab)
    assert hit.remark.strength is Strength.INFORMATION
    [asked] = found("not-labelled", lab.choosing("labels", "required"))
    assert asked.remark.strength is Strength.CHOICE
    assert asked.remark.score_loss > 0
    assert asked.remark.message.endswith("For the test.")


def test_the_number_of_flasks_without_a_tare_is_the_number_of_findings() -> None:
    lab = three().without("tare-a", "tare-l")
    assert [h.breach.step for h in found("flask-not-tared", lab)] == ["weigh-a", "weigh-l"]


def test_nothing_standing_beside_the_product_needs_no_label() -> None:
    lab = vinegar().without("label-organic", "label-acid").edited(
        "extract", other_in="waste").edited("wash-water", other_in="waste").edited(
            "wash-bicarbonate", other_in="waste").edited("wash-brine", other_in="waste").without(
                "test-washings", "discard-acid", "discard-bicarbonate", "discard-brine")
    assert found("not-labelled", lab) == []


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)
