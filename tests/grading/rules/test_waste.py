"""What goes where, and what must never meet."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.chemistry.plan import START_FLASK
from workups.grading.assessment import Strength
from workups.stock.waste import waste_streams

from .labs import Lab, bleach, bottom, charged, ether, heavy, made_up, three, vinegar
from .tables import (
    Table,
    Tables,
    assert_found,
    assert_not_held_against,
    breaking,
    case_of,
    found,
    keeping,
)


def a_little(bottle: str, stream: str, mL: float = 1.2) -> Lab:
    """A little acid or base in 30 mL of water, thrown away: 3.6 mmol in 1.2 mL of 3 M."""
    return ether().offering(bottle).after(
        "weigh",
        p.Add(id="rinse", flask="old", material="water", volume_mL=30.0),
        p.Add(id="drops", flask="old", material=bottle, volume_mL=mL),
        p.Discard(id="throw", flask="old", stream=stream))


def neat_bromide(stream: str, g: float = 10.0, ether_mL: float = 0.0) -> Lab:
    """1-Bromobutane, neat or in ether, thrown away."""
    solvent = (charged("diethyl_ether", mL=ether_mL),) if ether_mL else ()
    return made_up(
        (charged("1_bromobutane", g=g), *solvent), ("1_bromobutane",), ("diethyl_ether", "water"),
        (p.Discard(id="throw", flask=START_FLASK, stream=stream),))




def acid_into_carbonate() -> Lab:
    """The acid washings poured to those with hydrogencarbonate in one flask."""
    return vinegar().edited("wash-bicarbonate", other_in="acid washings").without(
        "test-washings", "discard-bicarbonate")


def all_combined() -> Lab:
    """All washings poured together after the weighing."""
    return vinegar().after("weigh", p.Combine(
        id="pool", flasks=("acid washings", "bicarbonate washings", "spent brine"),
        into="all of it")).without("discard-acid", "discard-bicarbonate", "discard-brine")


TABLES: Tables = {
    "waste-makes-gas": Table(
        breaks={
            "acid and carbonate washings in one flask": acid_into_carbonate,
            "all washings combined": all_combined,
        },
        keeps={"washings kept apart": vinegar},
        looks_wrong={
            "washings without carbonate combined": lambda: vinegar().after("weigh", p.Combine(
                id="pool", flasks=("acid washings", "spent brine"),
                into="acid and brine")).without("discard-acid", "discard-brine"),
            "several washings of several flasks": three,
        },
    ),
    "wrong-waste-stream": Table(
        breaks={
            "dichloromethane to the non-halogenated waste": lambda: heavy().after(
                "weigh", p.Add(id="rinse", flask="old", material="dichloromethane",
                               volume_mL=20.0),
                p.Discard(id="throw", flask="old", stream="non_halogenated")),
            "ether to the water": lambda: ether().after(
                "weigh", p.Add(id="rinse", flask="old", material="diethyl_ether",
                               volume_mL=20.0),
                p.Discard(id="throw", flask="old", stream="aqueous")),
            "acid to the base": lambda: vinegar().edited("discard-acid", stream="base"),
            "hydroxide to the acid": lambda: ether().edited("discard-aqueous", stream="acid"),
            "carbonate to the acid": lambda: bottom().edited("discard-drink", stream="acid"),
            "water layer to the solvent": lambda: ether().edited(
                "discard-brine", stream="non_halogenated"),
            "a liquid to the solids": lambda: ether().edited("discard-brine", stream="solid"),
            "a halogenated product to the other solvents": lambda: neat_bromide(
                "non_halogenated"),
            "a halogenated product in ether to the other solvents": lambda: neat_bromide(
                "non_halogenated", g=10.0, ether_mL=40.0),
            "much acid to the base": lambda: a_little("hcl_3m", "base", 10.0),
            "ether that stands over spent agent to the solids": lambda: ether().before(
                "filter", p.Discard(id="throw", flask="ether layer", stream="solid")).without(
                    "filter", "strip", "weigh"),
        },
        keeps={
            "acid, base and brine": ether, "three streams": three,
            "spent agent with what clings to it to the solids": lambda: ether().edited(
                "dry", endpoint="weighed", mass_g=12.0).after(
                "weigh", p.Discard(id="cake", flask="ether layer", stream="solid")),
            "a neat halogenated product to its own": lambda: neat_bromide("halogenated"),
        },
        looks_wrong={
            "a few drops of acid to the base": lambda: a_little("hcl_3m", "base"),
            "a few drops of hydroxide to the acid": lambda: a_little("naoh_3m", "acid"),
            "a trace of halogenated product with much ether": lambda: neat_bromide(
                "non_halogenated", g=1.0, ether_mL=40.0),
            "carbonate to the base": bottom,
            "neutral washings to any water stream": lambda: vinegar().edited(
                "discard-brine", stream="base"),
            "drying agent with a little water to the solids": lambda: ether().after(
                "weigh", p.Discard(id="cake", flask="ether layer", stream="solid")),
            "water with some dichloromethane dissolved in it": lambda: heavy().after(
                "weigh", p.Discard(id="throw", flask="water washings", stream="aqueous")),
            "ether to the halogenated waste, dearer and not wrong": lambda: ether().after(
                "weigh", p.Add(id="rinse", flask="old", material="diethyl_ether",
                               volume_mL=20.0),
                p.Discard(id="throw", flask="old", stream="halogenated")),
        },
    ),
    "waste-never-together": Table(
        breaks={
            "bleach and acid in one flask of washings": lambda: bleach().without(
                "reduce", "test").after("brine", p.Wash(
                    id="acid", flask="organic", material="hcl_1m", volume_mL=60.0,
                    keep_in="organic", other_in="aqueous")),
            "chloroform and concentrated hydroxide": lambda: heavy("chloroform").edited(
                "base", material="naoh_6m"),
        },
        keeps={"bleach destroyed": bleach},
        looks_wrong={
            "chloroform and dilute hydroxide": lambda: heavy("chloroform"),
            "dichloromethane and concentrated hydroxide": lambda: heavy().edited(
                "base", material="naoh_6m"),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


@pytest.mark.parametrize(("lab", "step"), [
    (acid_into_carbonate, "wash-bicarbonate"), (all_combined, "pool")])
def test_acid_and_carbonate_in_one_flask_are_told_with_their_gas_and_cost_nothing(
    lab, step
) -> None:
    [hit] = found("waste-makes-gas", lab())
    assert hit.fair
    assert hit.breach.step == step
    # At most the hydrogencarbonate of two portions of 25 mL: 31 mmol or 740 mL.
    assert 100 < hit.remark.numbers[0].value < 740


def test_chloroform_with_concentrated_base_waits_for_a_ta() -> None:
    [hit] = found("waste-never-together", heavy("chloroform").edited("base", material="naoh_6m"))
    assert hit.remark.strength is Strength.SAFETY_HOLD


@pytest.mark.parametrize(("ether_mL", "stream"), [
    (0.0, "halogenated"), (40.0, "halogenated"), (400.0, "non_halogenated")])
def test_what_is_left_of_a_halogenated_product_is_halogenated_waste(ether_mL, stream) -> None:
    """10 g of it alone, in 40 mL of ether (26 %) and in 400 mL (3 %)."""
    case = case_of(neat_bromide("aqueous", ether_mL=ether_mL), draws=2)
    left = case.changed(p.Plan((p.Label(id="label", flask=START_FLASK, text="rest"),)))
    assert [w.stream for w in waste_streams(left.exercise, left.run)] == [stream]
