"""A substance that an exercise brings along counts as one of the tables does."""

from __future__ import annotations

from dataclasses import replace

import pytest

from workups.chemistry.draws import Draws
from workups.chemistry.inventory import build_inventory, partition_quantity
from workups.chemistry.measures import measure
from workups.chemistry.run import simulate
from workups.chemistry.tables import tables
from workups.documents import library_exercise
from workups.grading.assess import assess

from .own_substances import from_file, under_another_key

ESTER = "too-much-vinegar"


def test_without_own_substances_the_shared_tables_are_used_themselves() -> None:
    assert library_exercise(ESTER).setup.tables is tables()


def test_own_substances_are_added_for_their_exercise_alone() -> None:
    known = from_file().setup.tables
    assert known.substances["4_fluorobenzoic_acid"].name == "4-fluorobenzoic acid"
    assert known.substances["water"] is tables().substances["water"]
    assert "4_fluorobenzoic_acid" not in tables().substances


def test_a_table_row_under_another_key_gives_the_same_numbers() -> None:
    """Nominal values alike to rounding; bands, drawn under the new name, within their noise."""
    ours = assess(library_exercise(ESTER), seed=1, draws=400)
    twins = assess(under_another_key(ESTER, "hexyl_acetate", "twin_ester"), seed=1, draws=400)
    mine, other = ours.expected[0], twins.expected[0]
    assert (other.target, other.name) == ("twin_ester", "hexyl acetate")
    assert other.theoretical_g == pytest.approx(mine.theoretical_g, rel=1e-12)
    for band, twin in ((mine.class_band, other.class_band), (mine.plan_band, other.plan_band)):
        assert twin.nominal == pytest.approx(band.nominal, rel=1e-9)
        assert twin.low == pytest.approx(band.low, rel=0.02)
        assert twin.high == pytest.approx(band.high, rel=0.02)
    assert [s.top for s in twins.steps] == [s.top for s in ours.steps]
    assert [c.score for c in twins.checks] == [c.score for c in ours.checks]


def test_an_acid_with_its_pKa_goes_where_its_salt_goes_and_comes_back() -> None:
    """At pH 8 an acid of pKa 4.14 is all but 0.02 % salt: the carbonate washes take it whole.

    Of 1.0 g, what stays dissolved in the acid filtrate is lost: 1.2 g/L at 25 C, half of that on
    ice, in 50 to 60 mL, and up to as much again for the ether that the water layer holds.
    """
    assessment = assess(from_file(), seed=1, draws=48)
    acid = assessment.expected[0]
    assert acid.theoretical_g == pytest.approx(1.0, abs=1e-9)
    assert 0.88 < acid.class_band.nominal < 0.97
    assert assessment.points > 0.8 * assessment.out_of


def test_the_same_acid_taken_as_neutral_would_stay_in_the_ether() -> None:
    """So that a pKa may not be left out: the document is refused without it."""
    exercise = from_file()
    acid = exercise.setup.own_substances[0]
    bare = replace(acid, values={k: q for k, q in acid.values.items() if k != "pKa1"})
    setup = replace(exercise.setup, own_substances=(bare,))
    run = simulate(exercise.model_plan, setup, Draws(1, 1))
    assert measure(run, acid.key).mass_g[0] < 0.1


def test_a_partition_coefficient_nobody_measured_is_as_wide_as_an_estimate() -> None:
    exercise = from_file()
    acid = exercise.setup.own_substances[0]
    q = partition_quantity(acid, "mtbe", exercise.setup)
    assert q is not None
    assert (q.value, q.uncertainty, q.grade) == (2.07, 0.5, "B")
    inventory = build_inventory(exercise.setup, exercise.setup.tables, Draws(1, 2000))
    row, at = inventory.index[acid.key], inventory.solvents.index("mtbe")
    assert inventory.log10_K[at, row].std() == pytest.approx(0.5, rel=0.1)
