"""Bringing a salt back."""

from __future__ import annotations

import pytest

from workups.chemistry import plan as p
from workups.grading.assessment import Strength

from .labs import acid_and_phenol, amine, changed_values, ether, library, three
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
    "not-set-free": Table(
        breaks={
            "not acidified": lambda: three().without("acidify", "test-a"),
            "acidified to pH 6": lambda: three().edited("acidify", until_pH=6.0),
            "not basified": lambda: amine().without("basify"),
            "basified to pH 7": lambda: amine().edited("basify", until_pH=7.0),
        },
        keeps={"acid and amine brought back": three, "amine": amine},
        looks_wrong={
            "pH 3 is enough for cinnamic acid, mostly": lambda: three().edited(
                "acidify", until_pH=2.5),
            "the salt stays behind on purpose while neutrals are washed out": lambda: amine()
            .swapped("clean", p.Extract(
                id="clean", flask="acid layer", material="mtbe", volume_mL=10.0, keep="upper",
                keep_in="neutral washings", other_in="acid layer")),
            "no salt in the exercise": ether,
        },
    ),
    "ph-not-reached": Table(
        breaks={
            "base to make acid": lambda: three().edited("acidify", material="naoh_3m"),
            "hydrogencarbonate to reach pH 12.5": lambda: amine().edited(
                "basify", material="nahco3_5pct"),
        },
        keeps={"acid to make acid": three, "base to make base": acid_and_phenol},
        looks_wrong={
            "it is there already": lambda: three().after("acidify", p.Adjust(
                id="once-more", flask="flask A", material="naoh_3m", until_pH=1.5)),
            "hydrogencarbonate stops short of pH 8, and the base is free all the same":
                lambda: three().edited("basify", material="nahco3_5pct", until_pH=8.0),
        },
    ),
    "neutrals-carried-along": Table(
        breaks={"much neutral compound, cut badly, not cleaned": lambda: changed_values(
            amine().without("clean"), organic_cut_mL=0.6)},
        keeps={"cleaned with fresh solvent": amine},
        looks_wrong={
            "little neutral compound": three,
            "a neutral product in water that is made basic": lambda: library("catch-it"),
        },
    ),
}


@pytest.mark.parametrize(("code", "lab"), breaking(TABLES))
def test_a_plan_that_breaks_it_is_found(code, lab) -> None:
    assert_found(code, lab)


@pytest.mark.parametrize(("code", "lab"), keeping(TABLES))
def test_a_plan_that_keeps_it_is_not_accused(code, lab) -> None:
    assert_not_held_against(code, lab)


def test_acid_left_as_its_salt_is_lost_whole() -> None:
    [hit] = found("not-set-free", three().without("acidify", "test-a"))
    assert hit.remark.strength is Strength.PRODUCT_LOSS
    assert hit.cost is not None
    assert hit.cost.target == "trans_cinnamic_acid"
    assert hit.cost.lost.nominal > 0.9


def test_half_way_to_the_pka_costs_part_of_it() -> None:
    [hit] = found("not-set-free", three().edited("acidify", until_pH=6.0))
    # At pH 6 an acid of pKa 4.4 is ionised to 97.5 %.
    assert hit.remark.numbers[0].value > 50


def test_more_portions_are_no_remedy_for_a_salt() -> None:
    """The amine is its salt in the water: it is said once, with the remedy that helps."""
    lab = library("there-and-back").edited("basify", until_pH=8.0)
    assert [h.breach.step for h in found("not-set-free", lab)] == ["extract"]
    assert found("recovery-below-goal", lab) == []
