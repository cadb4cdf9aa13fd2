"""Scale, per-student amounts, substituted chemicals: pure, repeatable, in whole measures."""

import pytest

from tests.long import IS_LONG
from workups.chemistry.plan import Extract, Wash
from workups.chemistry.tables import tables
from workups.documents import (
    dump_exercise,
    library_exercise,
    library_names,
    load_exercise,
)
from workups.documents.variants import (
    AmountSpread,
    Swap,
    Variant,
    VariantDoesNotFit,
    variant_from_data,
    variant_to_data,
    varied,
)
from workups.grading.assess import assess

SPREADS = tuple(
    AmountSpread(s, 0.2) for s in ("trans_cinnamic_acid", "lidocaine", "1_4_dimethoxybenzene")
)


@pytest.fixture(scope="module")
def bottle():
    return library_exercise("three-in-one-bottle")


def every_solvent():
    """Each library exercise's first solvent against some that it does not use."""
    for name in library_names():
        materials = library_exercise(name).setup.materials
        old = next(m for m in materials if m in tables().solvents)
        for new in ("ethyl_acetate", "dichloromethane", "mtbe", "toluene", "diethyl_ether"):
            if new not in materials:
                yield name, old, new


def masses(exercise):
    return [r.mass_g for r in exercise.setup.reaction.reagents]


def test_the_same_student_gets_the_same_amounts_and_another_one_others(bottle):
    variant = Variant(spreads=SPREADS)
    mine, again, theirs = (varied(bottle, variant, seed).exercise for seed in (7, 7, 8))
    assert mine == again
    assert masses(mine) != masses(theirs)
    assert mine.model_plan == bottle.model_plan


def test_amounts_stay_within_their_spread_and_on_the_balance(bottle):
    drawn = [m for n in range(200) for m in masses(varied(bottle, Variant(spreads=SPREADS), n)
                                                   .exercise)]
    assert all(0.8 <= m <= 1.2 for m in drawn)
    assert all(m == round(m, 3) for m in drawn)  # the exercise's balance reads to 0.001 g
    # An even draw has its mean at 1.000; 600 draws of standard deviation 0.115 scatter by 0.005.
    assert sum(drawn) / len(drawn) == pytest.approx(1.0, abs=0.02)


def test_one_more_substance_leaves_the_draws_of_the_others_alone(bottle):
    one = varied(bottle, Variant(spreads=SPREADS[:1]), 5).exercise
    three = varied(bottle, Variant(spreads=SPREADS), 5).exercise
    assert masses(one)[0] == masses(three)[0]
    assert masses(one)[1:] == [1.0, 1.0]


def test_half_the_scale_is_half_of_everything_that_is_measured_out(bottle):
    half = varied(bottle, Variant(scale=0.5)).exercise
    assert masses(half) == [0.5, 0.5, 0.5]
    pairs = zip(bottle.model_plan.steps, half.model_plan.steps, strict=True)
    volumes = [(a.volume_mL, b.volume_mL) for a, b in pairs if isinstance(a, Extract | Wash)]
    assert volumes
    assert all(b == pytest.approx(a / 2, rel=0.05) for a, b in volumes)
    assert half.setup.glassware.funnel_mL == 125  # half of 125 is between the common sizes
    expected = [assess(e, seed=1, draws=20).expected for e in (bottle, half)]
    for whole, part in zip(*expected, strict=True):
        assert part.class_band.nominal == pytest.approx(whole.class_band.nominal / 2, rel=0.05)


def test_a_substituted_chemical_is_weighed_in_place_of_the_old_one(bottle):
    """For somebody who may not work with lidocaine or the like: another neutral compound."""
    swap = Swap("1_4_dimethoxybenzene", "fluorene")
    found = varied(bottle, Variant((swap,)))
    assert found.exercise.setup.targets[2].substance == "fluorene"
    assert masses(found.exercise) == masses(bottle)
    assert "dimethoxybenzene" not in str(found.exercise.texts).lower()
    assert "fluorene" in found.exercise.texts.summary
    assert any("Left out of the texts" in note for note in found.notes)
    assessment = assess(found.exercise, seed=1, draws=20)
    assert {e.target for e in assessment.expected} == {
        "trans_cinnamic_acid", "lidocaine", "fluorene"
    }


def test_a_reagent_of_the_reaction_keeps_its_amount_in_mmol():
    """1-hexanol 5.11 g = 50.0 mmol of 102.18 g/mol; 1-octanol of 130.23 g/mol: 6.51 g."""
    vinegar = library_exercise("too-much-vinegar")
    other = varied(vinegar, Variant((Swap("1_hexanol", "1_octanol"),))).exercise
    octanol = next(r for r in other.setup.reaction.reagents if r.substance == "1_octanol")
    assert octanol.mass_g == pytest.approx(6.51, abs=0.01)


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [("too-much-vinegar", "mtbe", "dichloromethane"), *(every_solvent() if IS_LONG else ())],
)
def test_other_solvents_give_exercises_that_pass_their_own_checks(name, old, new):
    exercise = varied(library_exercise(name), Variant((Swap(old, new),))).exercise
    assert load_exercise(dump_exercise(exercise)) == exercise
    assessment = assess(exercise, seed=1, draws=20)
    failed = {c.name: c.findings for c in assessment.checks if c.score < 1.0}
    assert not failed


def test_what_the_simulation_cannot_know_is_said():
    """A Grignard reaction cannot be run in an ester; ethyl acetate does not stand hydroxide."""
    gently = varied(
        library_exercise("handle-gently"), Variant((Swap("diethyl_ether", "ethyl_acetate"),))
    )
    assert any("The reaction itself is run in ethyl acetate" in note for note in gently.notes)
    bottle = varied(
        library_exercise("three-in-one-bottle"), Variant((Swap("mtbe", "ethyl_acetate"),))
    )
    (note,) = [n for n in bottle.notes if "attacked" in n]
    assert note.startswith("Ethyl acetate is itself attacked by 3 M sodium hydroxide")


def test_a_variant_comes_back_from_the_database_as_it_was():
    variant = Variant((Swap("mtbe", "toluene"),), 0.5, SPREADS, 4)
    assert variant_from_data(variant_to_data(variant)) == variant
    assert not variant.changes_nothing
    assert Variant().changes_nothing


def test_impossible_variants_are_refused(bottle):
    with pytest.raises(ValueError, match="scale"):
        Variant(scale=100)
    with pytest.raises(ValueError, match="spread"):
        Variant(spreads=(AmountSpread("lidocaine", 0.9),))
    with pytest.raises(VariantDoesNotFit, match="not a reagent"):
        varied(bottle, Variant(spreads=(AmountSpread("caffeine", 0.1),)))
