"""Heat: what boils where liquids meet, and acid into water or water into acid."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength

from .labs import Lab, charged, grignard, made_up, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    found,
    keeping,
)

BEAKER = "beaker"


def nitration(*steps: p.Step) -> Lab:
    """A nitro compound in 10 mL of concentrated sulfuric acid."""
    return made_up(
        (charged("4_nitrotoluene", g=3.0), charged("sulfate", g=18.0), charged("water", g=1.0)),
        ("4_nitrotoluene",), ("water", "h2so4_conc", "naoh_6m", "diethyl_ether"), steps,
        start_phase="aqueous")


def in_ether(*steps: p.Step, mL: float = 30.0) -> Lab:
    """A neutral product in 30 mL of ether over 6 M sodium hydroxide."""
    return made_up(
        (charged("acetophenone", g=3.0), charged("diethyl_ether", mL=30.0),
         charged("sodium_hydroxide", mmol=6.0 * mL), charged("water", mL=mL)),
        ("acetophenone",), ("water", "hcl_conc", "hcl_1m", "diethyl_ether"), steps)


WATER = p.Add(id="water", flask=BEAKER, material="water", volume_mL=100.0)
POUR = p.Transfer(id="pour", flask=START_FLASK, into=BEAKER)
INTO_ACID = p.Add(id="water", flask=START_FLASK, material="water", volume_mL=100.0)
SHUT = p.Quench(id="water", flask=START_FLASK, material="water", volume_mL=100.0, slowly=False,
                on_ice=False, open_flask=False)
SOUR = p.Quench(id="sour", flask=START_FLASK, material="hcl_conc", volume_mL=16.0, slowly=False,
                on_ice=False)
SHAKEN = p.Wash(id="sour", flask=START_FLASK, material="hcl_conc", volume_mL=16.0, keep_in="ether",
                other_in="acid washings")

TABLES: Tables = {
    "water-into-acid": Table(
        breaks={
            "water into the reaction flask": lambda: nitration(INTO_ACID),
            "closed and without ice": lambda: nitration(SHUT),
            "slowly, in ice": lambda: nitration(
                p.Quench(id="water", flask=START_FLASK, material="water", volume_mL=100.0)),
            "less acid, which comes to 92 °C": lambda: made_up(
                (charged("4_nitrotoluene", g=3.0), charged("sulfate", g=12.0),
                 charged("water", g=1.2), charged("nitric_acid", g=0.2)),
                ("4_nitrotoluene",), ("water",), (INTO_ACID,), start_phase="aqueous"),
            "water poured over from a beaker": lambda: nitration(
                WATER, p.Transfer(id="pour", flask=BEAKER, into=START_FLASK)),
        },
        keeps={
            "the acid into the water": lambda: nitration(WATER, POUR),
            "the acid into the water, combined": lambda: nitration(
                WATER, p.Combine(id="pour", flasks=(START_FLASK,), into=BEAKER)),
        },
        looks_wrong={
            "water on a mixture with a little acid in it": vinegar,
            "more water on acid that is dilute": lambda: nitration(
                WATER, POUR, p.Add(id="more", flask=BEAKER, material="water", volume_mL=50.0)),
        },
    ),
    "boils-as-poured": Table(
        breaks={
            "concentrated acid at once into base under ether": lambda: in_ether(SOUR),
            "slowly and in ice, but closed": lambda: in_ether(
                p.Quench(id="sour", flask=START_FLASK, material="hcl_conc", volume_mL=16.0,
                         open_flask=False)),
            "concentrated acid shaken with base and ether": lambda: in_ether(SHAKEN),
        },
        keeps={
            "slowly, in ice": lambda: in_ether(
                p.Quench(id="sour", flask=START_FLASK, material="hcl_conc", volume_mL=16.0)),
            "a Grignard reagent quenched in ice": grignard,
        },
        looks_wrong={
            "dilute acid into little base": lambda: in_ether(
                p.Add(id="sour", flask=START_FLASK, material="hcl_1m", volume_mL=30.0), mL=5.0),
            "concentrated acid slowly, without ice": lambda: in_ether(
                p.Quench(id="sour", flask=START_FLASK, material="hcl_conc", volume_mL=16.0,
                         on_ice=False)),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_the_rule_finds_the_plan(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_the_rule_holds_nothing_against_the_plan(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_ice_and_care_make_it_lighter_and_closed_is_a_hold() -> None:
    strengths = {name: [f.remark.strength for f in found("water-into-acid", lab(), draws=2)]
                 for name, lab in TABLES["water-into-acid"].breaks.items()}
    assert strengths.pop("slowly, in ice") == [Strength.ADVICE]
    assert all(found == [Strength.SAFETY_HOLD] for found in strengths.values())
