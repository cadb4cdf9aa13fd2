"""Scale, and amounts that differ from student to student."""

import dataclasses
import hashlib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from workups.chemistry.plan import FieldKind, Plan, Step
from workups.chemistry.setup import Reagent
from workups.exercise.exercise import Exercise
from workups.words.numbers import balance_decimals, decimals_for

from .variant import AmountSpread

FUNNELS_mL = (30.0, 60.0, 125.0, 250.0, 500.0, 1000.0, 2000.0)
_SCALED_UNITS = ("mL", "g")


def scaled_exercise(exercise: Exercise, scale: float) -> Exercise:
    """All reagents, volumes and masses of agent times ``scale``, and a funnel to match."""
    if scale == 1.0:
        return exercise
    setup = exercise.setup
    reagents = tuple(
        _times(r, scale, setup.glassware.balance_readability_g) for r in setup.reaction.reagents
    )
    glassware = replace(setup.glassware, funnel_mL=funnel_for(setup.glassware.funnel_mL * scale))
    return replace(
        exercise,
        setup=replace(
            setup, reaction=replace(setup.reaction, reagents=reagents), glassware=glassware
        ),
        model_plan=scaled_plan(exercise.model_plan, scale),
        alternatives=tuple(scaled_plan(plan, scale) for plan in exercise.alternatives),
    )


def funnel_for(volume_mL: float) -> float:
    """The smallest common funnel of at least this size, the largest if none is [mL].

    >>> funnel_for(62.5), funnel_for(125.0)
    (125.0, 125.0)
    """
    return next((size for size in FUNNELS_mL if size >= volume_mL - 1e-9), FUNNELS_mL[-1])


def scaled_plan(plan: Plan, scale: float) -> Plan:
    return Plan(tuple(_scaled_step(step, scale) for step in plan.steps))


def _scaled_step(step: Step, scale: float) -> Step:
    changes: dict[str, Any] = {}
    for name, spec, value in step.fields():
        if spec.kind is FieldKind.QUANTITY and spec.unit in _SCALED_UNITS and value:
            low, high = spec.low or 0.0, spec.high or float("inf")
            changes[name] = min(max(handy(value * scale), low), high)
    return dataclasses.replace(step, **changes) if changes else step


def handy(value: float) -> float:
    """A volume or mass that can be measured out: two significant figures.

    >>> handy(7.53), handy(123.4), handy(0.31)
    (7.5, 120.0, 0.31)
    """
    return round(value, decimals_for(value, 2))


def _times(reagent: Reagent, factor: float, readability_g: float) -> Reagent:
    """The reagent with its planned amount multiplied, in whichever unit it is given."""
    decimals = balance_decimals(readability_g)
    if reagent.mass_g is not None:
        return replace(reagent, mass_g=max(round(reagent.mass_g * factor, decimals), readability_g))
    if reagent.volume_mL is not None:
        return replace(reagent, volume_mL=round(reagent.volume_mL * factor, 2))
    return replace(reagent, amount_mmol=round((reagent.amount_mmol or 0.0) * factor, 3))


def spread_amounts(exercise: Exercise, spreads: Sequence[AmountSpread], seed: int) -> Exercise:
    """Amounts drawn evenly within their spreads; the same seed gives the same amounts.

    Each substance is drawn by its own name, so that another one more leaves the rest alone.
    """
    shares = {spread.substance: spread.share for spread in spreads}
    setup = exercise.setup
    reagents = tuple(
        _times(
            reagent,
            1.0 + shares[reagent.substance] * (2.0 * _dice(seed, reagent.substance) - 1.0),
            setup.glassware.balance_readability_g,
        )
        if reagent.substance in shares
        else reagent
        for reagent in setup.reaction.reagents
    )
    return replace(
        exercise, setup=replace(setup, reaction=replace(setup.reaction, reagents=reagents))
    )


def _dice(seed: int, name: str) -> float:
    """A number from 0 up to 1 that depends on seed and name alone."""
    digest = hashlib.sha256(f"{seed}\0{name}".encode()).digest()
    return int.from_bytes(digest[:7], "big") / 2**56
