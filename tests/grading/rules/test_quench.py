"""What has to be destroyed before it is shut in, acidified or heated."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import bleach, ether, grignard, hydride, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

WASH = p.Wash(id="part", flask=START_FLASK, material="water", volume_mL=30.0, keep_in="organic",
              other_in="aqueous")

TABLES: Tables = {
    "not-quenched": Table(
        breaks={
            "washed with water while the hydride is still there": lambda: hydride().without(
                "quench").swapped("part", WASH),
            "a Grignard reagent shaken with acid": lambda: grignard().without("quench").swapped(
                "part", p.Wash(id="part", flask=START_FLASK, material="hcl_1m", volume_mL=30.0,
                               keep_in="organic", other_in="aqueous")),
        },
        keeps={"quenched": hydride, "Grignard quenched": grignard},
        looks_wrong={
            "water added to the open flask is a quench too": lambda: hydride().swapped(
                "quench", p.Add(id="quench", flask=START_FLASK, material="water",
                                volume_mL=30.0, slowly=True)),
            "nothing reactive in the flask": vinegar,
        },
    ),
    "quench-closed": Table(
        breaks={"closed": lambda: hydride().edited("quench", open_flask=False)},
        keeps={"open": hydride},
        looks_wrong={
            "closed, and nothing to give gas": lambda: vinegar().swapped(
                "dilute", p.Quench(id="dilute", flask=START_FLASK, material="water",
                                   volume_mL=30.0, open_flask=False)),
        },
    ),
    "poured-in-too-fast": Table(
        breaks={
            "a hydride quenched at once": lambda: hydride().edited("quench", slowly=False),
            "acid poured fast to a hydrogencarbonate layer": lambda: three().edited(
                "acidify", slowly=False),
        },
        keeps={"slowly": hydride, "acidified slowly": three},
        looks_wrong={
            "fast, and no gas": lambda: three().edited("basify", slowly=False),
            "water poured into acid": lambda: vinegar().edited("dilute", slowly=False),
        },
    ),
    "magnesium-hydroxide": Table(
        breaks={"quenched with plain water": lambda: grignard().edited(
            "quench", material="water")},
        keeps={"ammonium chloride": grignard},
        looks_wrong={
            "dilute acid": lambda: grignard().edited("quench", material="hcl_1m"),
            "no magnesium in the exercise": ether,
        },
    ),
    "oxidant-meets-acid": Table(
        breaks={
            "acid to bleach": lambda: bleach().swapped("reduce", p.Add(
                id="reduce", flask=START_FLASK, material="hcl_1m", volume_mL=20.0)),
            "ammonia to bleach": lambda: bleach().swapped("reduce", p.Add(
                id="reduce", flask=START_FLASK, material="nh3_2m", volume_mL=20.0)),
            "half of it destroyed, then acid": lambda: bleach().edited(
                "reduce", volume_mL=7.0).after("reduce", p.Add(
                    id="acid", flask=START_FLASK, material="hcl_1m", volume_mL=20.0)),
        },
        keeps={"destroyed, then acid": lambda: bleach().after("test", p.Add(
            id="acid", flask=START_FLASK, material="hcl_1m", volume_mL=20.0))},
        looks_wrong={
            "base to bleach": lambda: bleach().before("reduce", p.Add(
                id="base", flask=START_FLASK, material="na2co3_5pct", volume_mL=20.0)),
            "acid to the ether layer, bleach left in the water": lambda: bleach().edited(
                "reduce", volume_mL=0.5).edited("brine", material="hcl_1m"),
        },
    ),
    "oxidant-evaporated": Table(
        breaks={"bleach and ether stripped together": lambda: bleach().without("reduce").before(
            "extract", p.Strip(id="early", flask=START_FLASK, bath_C=40.0,
                               pressure_mbar=100.0))},
        keeps={"destroyed": bleach},
        looks_wrong={"not destroyed, and left behind in the water": lambda: bleach().without(
            "reduce", "test")},
    ),
    "oxidant-extracted": Table(
        breaks={
            "extracted, dried and stripped": lambda: bleach().without("reduce", "test"),
            "half of it destroyed": lambda: bleach().edited("reduce", volume_mL=7.0),
            "destroyed in the water layer, after the solvent has left it": lambda: bleach().without(
                "reduce", "test").after("extract", p.Add(
                    id="late", flask="aqueous", material="nahso3_10pct", volume_mL=20.0)),
        },
        keeps={
            "destroyed first": bleach,
            "the organic layer washed with the reducing agent": lambda: bleach().without(
                "reduce", "test").edited("brine", material="nahso3_10pct"),
        },
        looks_wrong={
            "a wash with bleach on purpose, and water after it": lambda: bleach().offering(
                "bleach_8_25pct").before("brine", p.Wash(
                    id="bleach", flask="organic", material="bleach_8_25pct", volume_mL=10.0,
                    keep_in="organic", other_in="spent bleach")),
            "extracted, and nothing is stripped": lambda: bleach().without(
                "reduce", "test", "strip"),
        },
    ),
    "oxidant-not-tested": Table(
        breaks={"no paper": lambda: bleach().without("test")},
        keeps={"starch iodide paper": bleach},
        looks_wrong={"no oxidant in the exercise": ether},
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_the_hydrogen_of_ten_millimoles_of_borohydride_is_about_a_litre() -> None:
    lab = hydride().without("quench").swapped("part", WASH)
    [hit] = found("not-quenched", lab)
    assert hit.remark.strength is Strength.SAFETY_HOLD
    # 4 mol of hydrogen per mol: 40 mmol at 24.06 mL/mmol (20 °C, 1 atm) = 962 mL.
    assert hit.remark.numbers[0].value == pytest.approx(962, abs=2)


def test_a_gel_is_a_risk_and_costs_only_the_product_it_holds() -> None:
    [hit] = found("magnesium-hydroxide", grignard().edited("quench", material="water"))
    assert hit.remark.strength is Strength.ADVICE
    assert hit.remark.score_loss == 0.0
    gel = hit.remark.numbers[1]
    assert gel.low is not None
    assert 0.5 < gel.low < gel.value


def test_a_gel_that_may_or_may_not_come_out_is_information() -> None:
    """Ammonium for a part of the hydroxide only: by brucite some comes out, by a fresh gel none."""
    lab = grignard().edited("quench", material="nh4cl_10pct", volume_mL=25.0)
    [hit] = found("magnesium-hydroxide", lab)
    assert hit.remark.strength is Strength.INFORMATION
    assert "(uncertain) may come out" in hit.remark.message


def test_oxidant_left_after_too_little_bisulfite_is_counted_one_to_one() -> None:
    lab = bleach().edited("reduce", volume_mL=7.0).after("reduce", p.Add(
        id="acid", flask=START_FLASK, material="hcl_1m", volume_mL=20.0))
    [hit] = found("oxidant-meets-acid", lab)
    # 15 mmol less 7 mL of 1.034 mmol/mL = 7.8 mmol, 187 mL of chlorine.
    assert hit.remark.numbers[0].value == pytest.approx(187, abs=5)
    assert hit.remark.strength is Strength.SAFETY_HOLD


def test_what_only_might_have_been_poured_slowly_is_no_more_than_advice() -> None:
    lab = three().swapped("acidify", p.Add(
        id="acidify", flask="flask A", material="hcl_3m", volume_mL=15.0))
    [hit] = found("poured-in-too-fast", lab)
    assert hit.remark.strength is Strength.ADVICE
