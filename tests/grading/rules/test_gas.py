"""Gas and pressure in the funnel."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assess import assess
from workups.grading.assessment import Strength
from workups.grading.reports import step_reports
from workups.words.numbers import rounded

from ..plans import every_exercise
from .labs import Lab, ether, grignard, heavy, library, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)


def poured_into_mtbe(mL: float = 5.0) -> Lab:
    """The reaction mixture, cooled, poured into a beaker with MTBE."""
    lab = vinegar()
    cool = lab.plan.steps[lab.plan.index("cool")]
    steps = (cool, p.Add(id="mtbe", flask="beaker", material="mtbe", volume_mL=mL),
             p.Transfer(id="pour", flask=START_FLASK, into="beaker"))
    return Lab(lab.exercise, p.Plan(steps))


BICARBONATE = p.Add(id="pour", flask="organic layer", material="nahco3_5pct", volume_mL=1.5)


def _acid_last():
    return vinegar().edited("wash-brine", material="hcl_1m")


def _three_small_portions():
    small = {"volume_mL": 17.0, "portions": 1}
    lab = vinegar().edited("wash-bicarbonate", **small)
    first = lab.plan.steps[lab.plan.index("wash-bicarbonate")]
    lab = lab.after("wash-bicarbonate", *(replace(first, id=f"portion-{n}") for n in (2, 3)))
    return lab.edited("wash-water", volume_mL=24.0)


TABLES: Tables = {
    "carbonate-stoppered": Table(
        breaks={
            "bicarbonate on acetic acid, stoppered at once": lambda: vinegar().edited(
                "wash-bicarbonate", swirl_open=False),
            "bicarbonate on cinnamic acid": lambda: three().edited("take-acid", swirl_open=False),
        },
        keeps={"swirled open": vinegar},
        looks_wrong={
            "solid carbonate under solvents without any water": lambda: library(
                "clinging-solvent").without("dilute"),
            "carbonate on a layer without acid": lambda: ether().edited(
                "wash-water", material="nahco3_5pct"),
            "a second bicarbonate wash, when the first took the acid": lambda: vinegar().after(
                "wash-bicarbonate",
                p.Wash(id="again", flask="organic layer", material="nahco3_5pct", volume_mL=20.0,
                       keep_in="organic layer", other_in="bicarbonate washings")),
        },
    ),
    "not-vented": Table(
        breaks={
            "ether": lambda: ether().edited("extract", vent=False),
            "dichloromethane": lambda: heavy().edited("base", vent=False),
        },
        keeps={"vented": ether},
        looks_wrong={
            "a solvent with little vapour": lambda: heavy("toluene").offering("toluene").edited(
                "base", vent=False, keep="upper").edited("water", keep="upper"),
        },
    ),
    "warm-into-funnel": Table(
        breaks={
            "a refluxed mixture": lambda: vinegar().without("cool"),
            "cooled after the shake": lambda: ether().moved("cool", "wash-water"),
        },
        keeps={"cooled": vinegar},
        looks_wrong={
            "a cold mixture without a step for cooling": three,
            "left to stand until it is cold": lambda: ether().swapped(
                "cool", p.Stand(id="cool", flask=START_FLASK, minutes=60.0)),
        },
    ),
    "carbonate-before-water": Table(
        breaks={
            "straight into the acid excess, undiluted": lambda: vinegar().without(
                "dilute", "wash-water").edited("extract", material="mtbe").edited(
                    "wash-bicarbonate", material="nahco3_sat", volume_mL=60.0),
        },
        keeps={"water first": vinegar},
        looks_wrong={
            "no second water wash, gas below the limit": lambda: vinegar().without("wash-water"),
            "little acid": three,
            "three small portions in three steps, the first one used up": _three_small_portions,
            "a carbonate that takes the acid on purpose, and too little of it": lambda: three()
            .edited("take-acid", portions=1, volume_mL=8.0),
        },
    ),
    "acid-on-carbonate": Table(
        breaks={
            "carbonate poured in and not drawn off": lambda: _acid_last().before(
                "wash-brine", BICARBONATE),
            "the same, and shaken with acid as an extraction": lambda: _acid_last().before(
                "wash-brine", BICARBONATE).swapped("wash-brine", p.Extract(
                    id="wash-brine", flask="organic layer", material="hcl_1m", volume_mL=20.0,
                    keep="lower", keep_in="spent brine", other_in="organic layer")),
        },
        keeps={
            "drawn off, water in between": lambda: _acid_last().before(
                "wash-brine", BICARBONATE,
                p.Separate(id="draw-off", flask="organic layer", keep_in="organic layer",
                           other_in="washings"),
                p.Wash(id="between", flask="organic layer", material="water", volume_mL=20.0,
                       keep_in="organic layer", other_in="washings")),
            "swirled open": lambda: _acid_last().before("wash-brine", BICARBONATE).edited(
                "wash-brine", swirl_open=True),
        },
        looks_wrong={"acid straight after a bicarbonate wash, all the gas long gone": _acid_last},
    ),
    "solvent-into-hot-flask": Table(
        breaks={
            "MTBE into a flask at 90 °C": lambda: vinegar().without("cool").before(
                "dilute", p.Add(id="mtbe", flask=START_FLASK, material="mtbe", volume_mL=5.0)),
            "the hot mixture transferred into MTBE": lambda: poured_into_mtbe().without("cool"),
            "the hot mixture and MTBE combined": lambda: poured_into_mtbe().without(
                "cool").swapped("pour", p.Combine(
                    id="pour", flasks=("beaker", START_FLASK), into="both")),
        },
        keeps={"cooled first": lambda: vinegar().before(
            "dilute", p.Add(id="mtbe", flask=START_FLASK, material="mtbe", volume_mL=5.0)),
            "cooled, then poured into MTBE": poured_into_mtbe,
        },
        looks_wrong={
            "ice water brings the mixture down before the solvent": lambda: vinegar().without(
                "cool").edited("dilute", volume_mL=200.0).before(
                    "extract",
                    p.Add(id="mtbe", flask=START_FLASK, material="mtbe", volume_mL=5.0)),
            "a little hot mixture into much cold MTBE": lambda: poured_into_mtbe(200.0).without(
                "cool"),
            "into a cold flask": lambda: grignard().before(
                "part",
                p.Add(id="more", flask=START_FLASK, material="diethyl_ether", volume_mL=5.0)),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_the_pressure_of_a_stoppered_bicarbonate_wash_is_shown_and_waits_for_a_ta() -> None:
    [hit] = found("carbonate-stoppered", vinegar().edited("wash-bicarbonate", swirl_open=False))
    numbers = {n.name: n.value for n in hit.remark.numbers}
    assert hit.remark.strength is Strength.SAFETY_HOLD
    # The model plan's own gas, about 85 mL nominal, in about 170 mL of headspace: half an
    # atmosphere of it, and a third of one of MTBE vapour (27 kPa at 20 °C), rounded down.
    # What is said is the gas of both portions, its cautious end.
    assert 60 < numbers["gas, dry"] < 500
    assert numbers["pressure above the air's"] > 40


@pytest.mark.parametrize(("published", "asked"), [
    ("oxime-acetate-pyridine-evaporated", True),  # ethyl acetate: 97 mbar at 20 °C
    ("anisole-toluene-calcium-chloride", False),  # toluene: 29 mbar
])
def test_from_a_tenth_of_the_airs_pressure_on_a_funnel_has_to_be_vented(
    published: str, asked: bool
) -> None:
    exercise = next(e for e in every_exercise() if e.key == published)
    extract = next(s for s in exercise.model_plan.steps if isinstance(s, p.Extract))
    plan = exercise.model_plan.replacing(replace(extract, vent=False))
    assert bool(found("not-vented", Lab(exercise, plan))) is asked


def test_the_instructors_limit_for_gas_is_kept() -> None:
    lab = vinegar().without("wash-water")
    assert found("carbonate-before-water", lab) == []
    [hit] = found("carbonate-before-water", lab.choosing("co2_limit_mL", "100"))
    assert hit.remark.strength is Strength.SAFETY_HOLD


def test_gas_is_held_at_its_cautious_end_and_charged_by_its_middle_without_a_cliff() -> None:
    """528 mL took 7.5 points where 499 mL took none, with words of the bulk of the acid."""
    lab = vinegar().without("wash-water")
    asked = []
    for limit in (80, 100, 115, 130, 170, 250, 340, 1000):
        for hit in found("carbonate-before-water", lab.choosing("co2_limit_mL", str(limit))):
            most = hit.remark.numbers[0].value
            assert most >= limit
            assert hit.remark.strength is Strength.SAFETY_HOLD
            assert f"where {limit} mL are allowed" in hit.remark.message
            asked.append(hit.remark.score_loss)
    assert asked[0] == pytest.approx(0.3)
    assert asked[-1] == 0.0
    steps = [a - b for a, b in pairwise(asked)]
    assert all(0.0 <= step < 0.12 for step in steps)


def test_that_water_takes_most_of_the_acid_is_said_where_it_does() -> None:
    """In the mixture as it was poured out it does; once water has been there it does not."""
    words = "Water alone takes most of the acid"
    [first] = found("carbonate-before-water", vinegar().without(
        "dilute", "wash-water").edited("extract", material="mtbe").edited(
            "wash-bicarbonate", material="nahco3_sat", volume_mL=60.0))
    [used_up] = found("carbonate-before-water", vinegar().without("wash-water").edited(
        "wash-bicarbonate", portions=1, volume_mL=40.0))
    for hit in (first, used_up):
        most, after = (n.value for n in hit.remark.numbers[:2])
        assert (words in hit.remark.message) == (after < 0.5 * most)
    assert words not in used_up.remark.message
    assert used_up.remark.strength is Strength.ADVICE


def test_the_gas_that_is_said_is_the_cautious_end_as_on_the_sheets() -> None:
    """The rule's number, its sentence and the funnel sheet of the same wash say one volume."""
    lab = vinegar().without("wash-water").choosing("co2_limit_mL", "100")
    [hit] = found("carbonate-before-water", lab)
    report = step_reports(hit.case.run)[hit.case.plan.index(hit.breach.step)]
    assert report.gas is not None
    said = hit.remark.numbers[0].value
    assert said == pytest.approx(report.gas.dry_mL_high, rel=1e-9)
    assert said > report.gas.dry_mL
    assert f"up to {rounded(said, 'mL', 2)}" in hit.remark.message


def test_shakes_that_are_not_vented_are_held_each_and_charged_once() -> None:
    """An extraction of three portions lost 4.5 points for it, three of one portion 13.5."""
    lab = ether()
    [first] = lab.plan.of(p.Extract)
    lab = lab.edited(first.id, vent=False).after(first.id, replace(
        first, id="again", flask=first.other_in, vent=False))
    hits = [f for f in assess(lab.exercise, lab.plan, draws=8).findings if f.code == "not-vented"]
    assert [(h.step, h.strength) for h in hits] == [
        (first.id, Strength.SAFETY_HOLD), ("again", Strength.SAFETY_HOLD)]
    assert [h.charged for h in hits] == [True, False]
