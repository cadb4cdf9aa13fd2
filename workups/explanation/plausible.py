"""Amounts that are possible to write and impossible to mean: doubts, one plain sentence each.

Common practice, no source: how much of a reagent a class uses against the one that limits, how
much a student weighs out, how full a flask gets. A doubt stops nothing; it is there to be seen.
"""

from collections.abc import Iterator

from workups.chemistry.limits import FUNNEL_FULL
from workups.chemistry.materials import reagent_mmol
from workups.chemistry.plan import Parting
from workups.chemistry.setup import Reagent
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.grading.slips import SLIPS, priors
from workups.words.material_facts import material_name, molar_mass, substance_word
from workups.words.numbers import amount, percent, rounded

MOST_EQUIVALENTS = 60.0
LEAST_EQUIVALENTS = 0.01
LEAST_CHARGE_g, MOST_CHARGE_g = 0.02, 250.0
# Of what reacts. Water that went into a trap and a by-product left out are no slip.
LEAST_MADE, MOST_MADE = 0.7, 1.1
MOST_PRIOR = 0.95


def doubts(exercise: Exercise) -> tuple[str, ...]:
    """What looks like a slip of a unit or a point, or cannot be done with this glass."""
    return (
        *_reagent_doubts(exercise),
        *_balance_doubts(exercise),
        *_volume_doubts(exercise),
        *_solution_doubts(exercise),
        *_conversion_doubts(exercise),
        *_balance_of_equation(exercise),
        *_prior_doubts(exercise),
    )


def _reagent_doubts(exercise: Exercise) -> Iterator[str]:
    known = exercise.setup.tables
    active = [r for r in exercise.setup.reaction.reagents if r.coefficient > 0]
    moles = {id(r): reagent_mmol(r, known) / r.coefficient for r in active}
    usual = sorted(moles.values())[len(moles) // 2] if moles else 0.0
    for reagent in exercise.setup.reaction.reagents:
        name = substance_word(reagent.substance, known)
        mass = _mass_g(reagent, known)
        if mass is not None and mass > MOST_CHARGE_g:
            yield (
                f"{amount(mass, 'g')} of {name} is more than a student handles: is the unit right? "
                f"{amount(mass * 1e-3, 'g')} would be a thousandth."
            )
        if reagent.coefficient > 0 and mass is not None and mass < LEAST_CHARGE_g:
            yield (
                f"{rounded(mass, 'g')} of {name} is less than a student can weigh out: is the "
                f"unit right? {rounded(mass * 1e3, 'g')} would be a thousand times as much."
            )
        share = moles.get(id(reagent), 0.0) / usual if usual else 1.0
        if reagent.coefficient > 0 and len(active) > 1 and not (
            LEAST_EQUIVALENTS <= share <= MOST_EQUIVALENTS
        ):
            yield (
                f"{name.capitalize()} comes to {rounded(share, '', 2)} times the amount of the "
                "other reagents: look at its unit and its decimal point."
            )


def _mass_g(reagent: Reagent, known: Tables) -> float | None:
    if reagent.mass_g is not None:
        return reagent.mass_g
    mass = molar_mass(reagent.substance, known)
    if not mass:
        return None
    return reagent_mmol(reagent, known) * mass * 1e-3


def _balance_doubts(exercise: Exercise) -> Iterator[str]:
    readability = exercise.setup.glassware.balance_readability_g
    known = exercise.setup.tables
    for reagent in exercise.setup.reaction.reagents:
        if reagent.mass_g and not reagent.staff_dispensed and reagent.mass_g < 20 * readability:
            yield (
                f"{amount(reagent.mass_g, 'g')} of {substance_word(reagent.substance, known)} on "
                f"a balance that reads to {amount(readability, 'g')} is known to "
                f"{percent(readability / reagent.mass_g)} at best."
            )


def _volume_doubts(exercise: Exercise) -> Iterator[str]:
    funnel = exercise.setup.glassware.funnel_mL
    for step in exercise.model_plan.of(Parting):
        fresh_mL = (step.fresh.each_mL if step.fresh else None) or 0.0
        if fresh_mL > FUNNEL_FULL * funnel:
            number = exercise.model_plan.index(step.id) + 1
            yield (
                f"Step {number}: a portion of {amount(fresh_mL, 'mL')} alone fills "
                f"{percent(fresh_mL / funnel)} of the {amount(funnel, 'mL')} funnel. It has "
                "to be split, or the funnel be larger."
            )


def _solution_doubts(exercise: Exercise) -> Iterator[str]:
    known = exercise.setup.tables
    for own in exercise.setup.own_materials:
        mass = sum(value * known.molar_mass(key) * 1e-3 for key, value in own.components.items())
        if mass > own.density_g_mL:
            yield (
                f"1 mL of {material_name(own.key, exercise)} would hold {rounded(mass, 'g')} of "
                f"dissolved matter and weighs {rounded(own.density_g_mL, 'g')}: components are "
                "in mmol per mL."
            )


def _conversion_doubts(exercise: Exercise) -> Iterator[str]:
    reaction = exercise.setup.reaction
    if reaction.products and reaction.conversion.nominal <= 0:
        yield "Products are listed, and the expected conversion is 0: nothing of them is made."


def _balance_of_equation(exercise: Exercise) -> Iterator[str]:
    known, reaction = exercise.setup.tables, exercise.setup.reaction
    reagents = [r for r in reaction.reagents if r.coefficient > 0]
    if not reaction.products or any(r.composition for r in reagents):
        return
    there = sum(r.coefficient * known.molar_mass(r.substance) for r in reagents)
    made = sum(p.coefficient * known.molar_mass(p.substance) for p in reaction.products)
    if not LEAST_MADE * there <= made <= MOST_MADE * there:
        missing = "product" if there > made else "reagent"
        yield (
            f"The equation does not balance: {rounded(there, 'g/mol', 4)} react and "
            f"{rounded(made, 'g/mol', 4)} are made. Is a {missing} missing, or a coefficient wrong?"
        )


def _prior_doubts(exercise: Exercise) -> Iterator[str]:
    own = exercise.priors
    if SLIPS.keys() <= own.keys() and not any(own[key] for key in SLIPS):
        yield "Every explanation of the diagnosis has the weight 0: the usual weights hold."
        return
    for key, prior in priors(own).items():
        if key in own and prior > MOST_PRIOR:
            yield (
                f"With its weight of {own[key]:g} the diagnosis expects "
                f"“{SLIPS[key].title.lower()}” in {percent(prior)} of all records: little else "
                "can come out."
            )
