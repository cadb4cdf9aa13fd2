"""What is shown before readings are locked: the same plan, worked out with public numbers.

How far a reaction went is not known to a student before the product is weighed, and whatever is
computed from it gives it away: the share of solvent in the product, of starting material, the
volume of gas. So a self-check, and all else that a student sees of a plan before the readings are
locked, is computed for the exercise as everybody may know it. There the reaction has gone
0.85 of the way, between 0.70 and 1.00, in every exercise: figures of teaching, chosen so that
leftover starting material is there in an amount that matters and has to be washed out, and that
the range holds what classes mostly reach (common practice, no source). A side reaction, a product
whose coefficient is no simple fraction, takes 0.05. The equation itself, what was put in, volumes
and constants are public and are used as they are.

What is said of a plan then is close to, but not the same as, what is said after release, which is
computed with the exercise's own numbers. These alone decide, when the plan is handed in, whether
it is held for safety, and of this only the rule's name is shown.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from workups.chemistry.setup import Product, Reaction, Spread

from .exercise import Exercise

PUBLIC_CONVERSION = Spread(0.70, 0.85, 1.00)
SIDE_SHARE = 0.05
# Coefficients of equations are whole numbers, halves, thirds or quarters (NaBH4: a quarter).
_MOST_PARTS, _NEARLY = 4, 1e-3


def public_exercise(exercise: Exercise) -> Exercise:
    """The exercise with public numbers for all that is hidden from students.

    Two exercises that differ in conversion, shares of side reactions or priors alone have the
    same public exercise. The model plan stays: a rule asks whether it, too, leaves something
    behind, and what it leaves is worked out with the public numbers.
    """
    setup = replace(exercise.setup, reaction=_public(exercise.setup.reaction, _targets(exercise)))
    return replace(exercise, setup=setup, priors={}, sources=())


def _targets(exercise: Exercise) -> frozenset[str]:
    return frozenset(target.substance for target in exercise.setup.targets)


def _public(reaction: Reaction, targets: frozenset[str]) -> Reaction:
    """A separation, without products, has nothing hidden: what was put in is there."""
    products = tuple(
        p
        if p.substance in targets or _is_of_the_equation(p)
        else replace(p, coefficient=SIDE_SHARE)
        for p in reaction.products
    )
    conversion = PUBLIC_CONVERSION if products else Spread(0.0, 0.0, 0.0)
    return replace(reaction, products=products, conversion=conversion)


def _is_of_the_equation(product: Product) -> bool:
    simple = Fraction(product.coefficient).limit_denominator(_MOST_PARTS)
    return simple > 0 and abs(product.coefficient - float(simple)) < _NEARLY
