"""Amounts that can be written and not be meant are named; those of a real exercise are not."""

from dataclasses import replace

import pytest

from workups.chemistry.setup import OwnMaterial, Spread
from workups.documents import library_exercise, library_names
from workups.explanation.plausible import doubts
from workups.grading.slips import SLIPS

ESTER = library_exercise("too-much-vinegar")


def with_reagent(number, **change):
    reaction = ESTER.setup.reaction
    reagents = list(reaction.reagents)
    reagents[number] = replace(reagents[number], **change)
    setup = replace(ESTER.setup, reaction=replace(reaction, reagents=tuple(reagents)))
    return replace(ESTER, setup=setup)


@pytest.mark.parametrize("name", library_names())
def test_a_library_exercise_raises_no_doubt(name):
    assert doubts(library_exercise(name)) == ()


@pytest.mark.parametrize(
    ("exercise", "said"),
    [
        (with_reagent(0, mass_g=511.0), "more than a student handles"),
        (with_reagent(0, mass_g=0.00511), "a thousand times as much"),
        (with_reagent(1, mass_g=0.009), "times the amount of the other reagents"),
        (with_reagent(1, mass_g=9010.0), "a thousandth"),
        (replace(ESTER, priors={"spilled": 1000}), "“product was spilled or bumped over” in"),
        (replace(ESTER, priors=dict.fromkeys(SLIPS, 0.0)), "the usual weights hold"),
        (with_reagent(0, mass_g=0.1), "known to 10\u00a0% at best"),
        (
            replace(
                ESTER, setup=replace(
                    ESTER.setup, glassware=replace(ESTER.setup.glassware, funnel_mL=50)
                )
            ),
            "to be split, or the funnel be larger",
        ),
        (
            replace(
                ESTER,
                setup=replace(
                    ESTER.setup,
                    own_materials=(OwnMaterial("own", "own salt", 1.1, {"sodium": 100.0}),),
                ),
            ),
            "components are in mmol per mL",
        ),
        (
            replace(
                ESTER,
                setup=replace(
                    ESTER.setup,
                    reaction=replace(ESTER.setup.reaction, conversion=Spread(0, 0, 0)),
                ),
            ),
            "nothing of them is made",
        ),
        (
            replace(
                ESTER,
                setup=replace(
                    ESTER.setup,
                    reaction=replace(
                        ESTER.setup.reaction,
                        products=(replace(ESTER.setup.reaction.products[0], coefficient=2),),
                    ),
                ),
            ),
            "162.2\u00a0g/mol react and 288.4\u00a0g/mol are made. Is a reagent missing",
        ),
    ],
)
def test_a_slip_of_a_unit_is_named(exercise, said):
    assert any(said in doubt for doubt in doubts(exercise)), doubts(exercise)
