"""The exercise as everybody may know it: no hidden number is in it, and its advice is sound."""

from dataclasses import fields, replace

import pytest

from tests.long import exercises
from workups.chemistry.setup import Product, Reaction, Setup, Spread
from workups.documents import library_exercise, library_names
from workups.exercise import public
from workups.exercise.exercise import Exercise
from workups.exercise.public import PUBLIC_CONVERSION, SIDE_SHARE, public_exercise
from workups.grading.assess import assess
from workups.grading.assessment import Assessment
from workups.selectors.method import method_chapters

DRAWS = 60


def with_hidden(exercise: Exercise, conversion: Spread, side: float) -> Exercise:
    """The exercise with another conversion, priors, and a side reaction to dibutyl ether."""
    reaction = replace(
        exercise.setup.reaction,
        conversion=conversion,
        products=(*exercise.setup.reaction.products, Product("dibutyl_ether", side)),
    )
    setup = replace(exercise.setup, reaction=reaction)
    return replace(exercise, setup=setup, priors={"spilled": side})


@pytest.mark.parametrize("name", library_names())
def test_exercises_that_differ_in_hidden_numbers_have_one_public_exercise(name):
    exercise = library_exercise(name)
    one = with_hidden(exercise, Spread(0.2, 0.4, 0.5), 0.07)
    other = with_hidden(exercise, Spread(0.9, 0.95, 0.99), 0.12)
    assert one != other
    assert public_exercise(one) == public_exercise(other)


# What a student may know of an exercise: texts, what is put in, the equation, constants, glassware,
# goals and rules. `model_plan` is never shown: only a rule's measure is taken from it.
KNOWN = {
    Exercise: "key title setup model_plan alternatives rubric policy choices texts fixed_portions",
    Setup: "reaction targets materials own_materials own_substances glassware start_phase start_C "
    "room_C values slow_reactions salting cosolvent",
    Reaction: "reagents products",
    Product: "substance coefficient",
}
REPLACED = {Exercise: "priors sources", Reaction: "conversion"}


@pytest.mark.parametrize("kind", KNOWN)
def test_every_field_is_known_to_students_or_replaced(kind):
    """A new field fails here: decide whether `public_exercise` has to replace it."""
    named = f"{KNOWN[kind]} {REPLACED.get(kind, '')}".split()
    assert {field.name for field in fields(kind)} == set(named)


def test_a_side_reaction_takes_the_public_share_and_the_equation_its_own():
    """Borate and sodium of a reduction with borohydride: a quarter each, by the equation."""
    exercise = with_hidden(library_exercise("there-and-back"), Spread(0.2, 0.4, 0.5), 0.07)
    products = public_exercise(exercise).setup.reaction.products
    assert [p.coefficient for p in products] == [1.0, 1.0, 0.25, 0.25, SIDE_SHARE]


def test_a_separation_keeps_what_was_put_in():
    exercise = library_exercise("three-in-one-bottle")
    assert public_exercise(exercise).setup == exercise.setup


def charged(assessment: Assessment) -> set[tuple[str, str]]:
    return {(f.code, f.step) for c in assessment.checks for f in c.findings if f.charged}


WITH_REACTION = tuple(
    n for n in library_names() if library_exercise(n).setup.reaction.products
)


@pytest.mark.parametrize("name", exercises(WITH_REACTION))
def test_a_right_plan_is_right_with_public_numbers_too(name):
    exercise = library_exercise(name)
    for plan in (exercise.model_plan, *exercise.alternatives):
        found = assess(public_exercise(exercise), plan, draws=DRAWS)
        assert charged(found) == charged(assess(exercise, plan, draws=DRAWS))
        assert found.safety_holds == ()


def test_leftover_starting_material_still_matters():
    """Acidified, the cresol goes with the ether: a tenth to spare and what did not react."""
    exercise = library_exercise("plain-ether")
    plan = exercise.model_plan.replacing(
        replace(exercise.model_plan.steps[1], material="hcl_1m")
    ).replacing(
        replace(exercise.model_plan.steps[6], agent="magnesium_sulfate")
    )
    found = assess(public_exercise(exercise), plan, draws=DRAWS)
    assert "impurity-left" in {f.code for c in found.checks for f in c.findings}


def test_the_words_about_the_public_numbers_name_them():
    low, nominal, high = PUBLIC_CONVERSION.low, PUBLIC_CONVERSION.nominal, PUBLIC_CONVERSION.high
    words = " ".join((public.__doc__ or "").split())
    assert f"{nominal:.2f} of the way, between {low:.2f} and {high:.2f}" in words
    assert f"takes {SIDE_SHARE:.2f}" in words
    shown = [passage.text for chapter in method_chapters() for passage in chapter.passages]
    assert any(f"{nominal:.2f} of the way" in text for text in shown)
