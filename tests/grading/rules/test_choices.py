"""Settings of an exercise: each says something only where it is chosen."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.exercise.settings import SETTINGS
from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.assessment import Strength
from workups.grading.rule import RULES

from .labs import (
    Lab,
    acid_and_phenol,
    ether,
    heavy,
    hydride,
    in_cosolvent,
    in_water,
    three,
    vinegar,
)
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)


def _acid_then_carbonate(*between: p.Step) -> Lab:
    """An ester in MTBE washed with acid and with hydrogencarbonate."""
    return (
        heavy("mtbe")
        .edited("base", material="hcl_1m", keep="upper")
        .before("water", *between)
        .edited("water", material="nahco3_5pct", keep="upper", swirl_open=True)
    )


def _washed_singly() -> Lab:
    lab = in_water(portions=2).without("brine")
    return lab.after(
        "extract",
        p.Extract(id="second", flask="aqueous", material="mtbe", volume_mL=30.0, portions=2,
                  keep_in="more", other_in="spent"),
        *(p.Wash(id=f"brine-{name}", flask=name, material="brine", volume_mL=10.0, keep_in=name,
                 other_in="spent brine") for name in ("organic", "more")),
    ).before("dry", p.Combine(id="one", flasks=("organic", "more"), into="all")).edited(
        "dry", flask="all").edited("filter", flask="all")


WATER = p.Wash(id="between", flask="organic", material="water", volume_mL=10.0, keep_in="organic",
               other_in="water washings")
TLC = p.Test(id="tlc", flask="aqueous", how="TLC")

# For each setting: its value, a plan that goes against it, and one that follows it.
ASKED = {
    "brine-required": ("brine", "required", lambda: ether().without(
        "wash-brine", "discard-brine"), ether),
    "water-between-acid-and-carbonate": (
        "water_between", "expected", _acid_then_carbonate, lambda: _acid_then_carbonate(WATER)),
    "last-wash": ("last_wash", "acid", _acid_then_carbonate, lambda: heavy("mtbe").edited(
        "base", keep="upper").edited("water", material="hcl_1m", keep="upper")),
    "extraction-not-checked": ("extraction_check", "TLC", in_water,
                               lambda: in_water().after("extract", TLC)),
    "combined-late": ("combine", "before washing", _washed_singly, in_water),
    "quench-otherwise": ("quench_with", "dilute acid", hydride,
                         lambda: hydride().edited("quench", material="hcl_1m")),
    "cosolvent-otherwise": (
        "cosolvent_removal", "evaporate", in_cosolvent, lambda: in_cosolvent().before(
            "dilute", p.Strip(id="off", flask=START_FLASK, bath_C=40.0, pressure_mbar=100.0))),
    "drying-amount": ("drying_amount", "weighed", ether, lambda: ether().edited(
        "dry", endpoint="weighed", mass_g=3.0)),
    "decanted": ("agent_removal", "filter", ether,
                 lambda: ether().edited("filter", method="gravity")),
    "overnight-over-agent": ("overnight_over_agent", "avoid",
                             lambda: ether().edited("dry", minutes=1200.0), ether),
    "tared-afterwards": (
        "tare", "before", lambda: ether().without("tare").after(
            "weigh", p.Transfer(id="out", flask="round-bottom flask", into="vial"),
            p.Tare(id="tare", flask="round-bottom flask")), ether),
    "not-cooled-before-weighing": ("cooling", "expected", ether, lambda: ether().before(
        "weigh", p.Cool(id="cold", flask="round-bottom flask"))),
    "one-reading": ("constant_mass", "required",
                    lambda: ether().edited("weigh", readings=1), ether),
    "dichloromethane-used": ("dichloromethane", "not allowed", heavy, vinegar),
}


def _tables() -> Tables:
    def asked(code: str, which: int) -> Lab:
        key, value, *labs = ASKED[code]
        return labs[which]().choosing(key, value)

    return {
        code: Table(
            breaks={"against what is asked for": lambda code=code: asked(code, 0)},
            keeps={"as asked for": lambda code=code: asked(code, 1)},
            looks_wrong={"not asked for": lambda code=code: ASKED[code][2]()},
        )
        for code in ASKED
    }


TABLES: Tables = _tables()


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


@pytest.mark.parametrize("code", ASKED)
def test_a_setting_shows_the_instructors_reason_and_costs_little(code) -> None:
    key, value, breaks, _ = ASKED[code]
    hit = found(code, breaks().choosing(key, value))[0]
    assert hit.remark.strength is Strength.CHOICE
    assert hit.remark.message.endswith("For the test.")
    assert 0 < hit.remark.score_loss <= 0.1


@pytest.mark.parametrize("lab", [vinegar, ether, three, acid_and_phenol, heavy],
                         ids=["vinegar", "ether", "three", "acid and phenol", "heavy"])
def test_nothing_is_asked_for_where_nothing_is_chosen(lab) -> None:
    free = replace(lab(), exercise=replace(lab().exercise, choices=()))
    chosen = [c for c in ASKED if found(c, free)]
    assert chosen == []


def test_every_setting_is_read_by_a_rule() -> None:
    asked = {key for key, *_ in ASKED.values()}
    elsewhere = {"co2_limit_mL", "wash_loss_limit_percent", "labels", "drying"}
    assert asked | elsewhere == set(SETTINGS)


def test_a_setting_that_does_not_exist_cannot_be_asked_for() -> None:
    with pytest.raises(KeyError):
        vinegar().exercise.choice("brin")


def test_settings_in_the_other_direction() -> None:
    ammonium = hydride().edited("quench", material="hcl_1m").choosing(
        "quench_with", "ammonium chloride")
    assert found("quench-otherwise", ammonium)
    first = hydride().choosing("quench_with", "ammonium chloride")
    assert found("quench-otherwise", first) == []
    evaporated = in_cosolvent().before("dilute", p.Strip(
        id="off", flask=START_FLASK, bath_C=40.0, pressure_mbar=100.0))
    assert found("cosolvent-otherwise", evaporated.choosing("cosolvent_removal", "dilute"))
    base_last = heavy("mtbe").edited("base", keep="upper").edited(
        "water", material="hcl_1m", keep="upper").choosing("last_wash", "base")
    [hit] = found("last-wash", base_last)
    assert hit.breach.mended is not None
    assert [s.material for s in hit.breach.mended.steps if isinstance(s, p.Wash)] == [
        "hcl_1m", "naoh_1m"]
    assert RULES["last-wash"].check == "order"
