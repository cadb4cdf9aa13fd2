"""One key in place of another, everywhere an exercise names it."""

import dataclasses
from collections.abc import Mapping
from dataclasses import replace

from workups.chemistry.materials import reagent_mmol
from workups.chemistry.plan import FieldKind, Plan, Step
from workups.chemistry.setup import Product, Reaction, Reagent, Setup, Target
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.words.numbers import balance_decimals


def swapped(exercise: Exercise, swaps: Mapping[str, str]) -> Exercise:
    """Reagents, products, targets, materials and steps with their keys exchanged.

    A reagent that takes part in the reaction keeps its amount in mmol, another one its mass.
    Own values and slow reactions that name what is gone are left out.
    """
    return replace(
        exercise,
        setup=replace(
            exercise.setup,
            reaction=_reaction(exercise.setup, swaps),
            targets=tuple(_target(target, swaps) for target in exercise.setup.targets),
            materials=tuple(dict.fromkeys(swaps.get(key, key) for key in exercise.setup.materials)),
            values={
                name: value
                for name, value in exercise.setup.values.items()
                if not set(name.split(":")[1:]) & set(swaps)
            },
            slow_reactions=tuple(
                slow
                for slow in exercise.setup.slow_reactions
                if not {slow.substrate, *slow.products} & set(swaps)
            ),
        ),
        model_plan=swapped_plan(exercise.model_plan, swaps),
        alternatives=tuple(swapped_plan(plan, swaps) for plan in exercise.alternatives),
    )


def _reaction(setup: Setup, swaps: Mapping[str, str]) -> Reaction:
    reaction = setup.reaction
    decimals = balance_decimals(setup.glassware.balance_readability_g)
    return replace(
        reaction,
        reagents=tuple(_reagent(r, swaps, setup.tables, decimals) for r in reaction.reagents),
        products=tuple(
            Product(swaps.get(p.substance, p.substance), p.coefficient) for p in reaction.products
        ),
    )


def _reagent(reagent: Reagent, swaps: Mapping[str, str], known: Tables, decimals: int) -> Reagent:
    if reagent.substance not in swaps:
        return reagent
    new = swaps[reagent.substance]
    renamed = replace(reagent, substance=new, composition={})
    if reagent.coefficient == 0 or reagent.amount_mmol is not None:
        return renamed
    mass_g = reagent_mmol(reagent, known) * known.molar_mass(new) * 1e-3 / reagent.purity
    return replace(renamed, mass_g=round(mass_g, decimals), volume_mL=None)


def _target(target: Target, swaps: Mapping[str, str]) -> Target:
    return replace(target, substance=swaps.get(target.substance, target.substance))


def swapped_plan(plan: Plan, swaps: Mapping[str, str]) -> Plan:
    return Plan(tuple(_step(step, swaps) for step in plan.steps))


def _step(step: Step, swaps: Mapping[str, str]) -> Step:
    changes = {
        name: swaps[value]
        for name, spec, value in step.fields()
        if spec.kind is FieldKind.MATERIAL and value in swaps
    }
    return dataclasses.replace(step, **changes) if changes else step
