"""Taking the drying agent off, and what stays behind."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import ether, heavy, hydride, vinegar
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
    "cake-not-rinsed": Table(
        breaks={"a powder, not rinsed": lambda: vinegar().edited(
            "dry", endpoint="weighed", mass_g=6.0).edited("filter", rinses=0)},
        keeps={"rinsed twice": vinegar},
    ),
    "powder-decanted": Table(
        breaks={"magnesium sulfate decanted": lambda: vinegar().edited(
            "filter", method="decant")},
        keeps={"filtered": vinegar},
        looks_wrong={
            "calcium chloride decanted": ether,
            "sodium sulfate decanted": lambda: hydride().edited("filter", method="decant"),
        },
    ),
    "not-rinsed-over": Table(
        breaks={"an oil poured over, the flask not rinsed": lambda: heavy().after(
            "strip", p.Tare(id="vial", flask="vial"),
            p.Transfer(id="over", flask="tared", into="vial")).edited("weigh", flask="vial")},
        keeps={"rinsed": lambda: heavy().after(
            "strip", p.Tare(id="vial", flask="vial"),
            p.Transfer(id="over", flask="tared", into="vial", rinse_with="dichloromethane",
                       rinse_mL=3.0, rinses=2)).edited("weigh", flask="vial")},
        looks_wrong={"a dilute solution poured over": lambda: vinegar().before(
            "extract", p.Transfer(id="over", flask=START_FLASK, into="funnel")).edited(
                "extract", flask="funnel")},
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_what_a_film_keeps_takes_no_marks() -> None:
    lab = heavy().after(
        "strip", p.Tare(id="vial", flask="vial"),
        p.Transfer(id="over", flask="tared", into="vial")).edited("weigh", flask="vial")
    [hit] = found("not-rinsed-over", lab)
    assert hit.fair
    # 0.4 mL of film on about 2.9 mL of ester: 14 %.
    assert hit.remark.numbers[0].value == pytest.approx(14, abs=4)
    assert hit.remark.strength is Strength.ADVICE
