"""The ideas of a workup that can be tried by doing, and where."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from workups.chemistry.kinds import bottle
from workups.chemistry.plan import DRY_ENDPOINTS, Adjust, Dry, Extract, Step, Wash
from workups.exercise.exercise import Exercise

from ..points.charges import code_of
from ..points.ledger import How

_MOST_PORTIONS = 6
_VOLUMES_ML = (2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0)
_MASSES_G = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)


@dataclass(frozen=True)
class Idea:
    """One choice of a step: its values, and the step with another value.

    ``kinds`` of steps have it, with brine only or with anything else where ``with_brine`` says so.
    ``question`` is answered by finding a value; ``is_peak``: the best value is sought, else the
    least that is enough. ``mends``: codes of the findings that another value may mend; beside any
    other it would lead astray.
    """

    key: str
    title: str
    of: str
    unit: str
    question: str
    why: str
    kinds: tuple[type[Step], ...]
    values: Callable[[Any], tuple[float, ...]]
    planned: Callable[[Any], float | None]
    changed: Callable[[Any, float], Step]
    mends: frozenset[str]
    with_brine: bool | None = None
    is_peak: bool = False


def _with_portions(step: Any, count: float) -> Step:
    total_mL = step.portions * step.volume_mL
    changed: Step = replace(step, portions=int(count), volume_mL=total_mL / count)
    return changed


def _planned_mass(step: Any) -> float | None:
    return step.mass_g if step.endpoint == DRY_ENDPOINTS[0] else None


def _masses(step: Any) -> tuple[float, ...]:
    planned = _planned_mass(step)
    return tuple(sorted({*_MASSES_G, *([planned] if planned else [])}))


IDEAS: Mapping[str, Idea] = {idea.key: idea for idea in (
    Idea(
        "portions", "Several small portions", "portions", "",
        "How many portions are enough, so that one more changes less than a per cent?",
        "The same volume, divided: each fresh portion takes its share of what the portions before "
        "left. Where nearly all goes over at once, dividing brings little; where it hesitates, "
        "much.",
        (Extract, Wash), lambda _: tuple(float(n) for n in range(1, _MOST_PORTIONS + 1)),
        lambda step: float(step.portions), _with_portions, frozenset({
            "recovery-below-goal", code_of(How.OTHER_LAYER), "funnel-too-full",
            "impurity-left", "acid-left-in-product", "cosolvent-left-in-product"}),
        with_brine=False),
    Idea(
        "brine", "How much brine", "brine", "mL",
        "How much brine is enough, so that the next step more changes less than a per cent?",
        "Salt takes the activity out of water, so brine draws water from a wet organic layer. It "
        "does so with little; a drying agent has to take what brine leaves.",
        (Wash,), lambda step: tuple(sorted({*_VOLUMES_ML, step.volume_mL})),
        lambda step: step.volume_mL, lambda step, mL: replace(step, volume_mL=mL),
        frozenset({"product-washed-out", code_of(How.WASHED_OUT)}), with_brine=True),
    Idea(
        "agent", "How much drying agent", "agent", "g",
        "How much agent is enough, so that the next step more changes less than a per cent?",
        "An agent takes up water until its own hydrate is in balance with what is left. Less than "
        "that leaves water; more takes up nothing, and holds solution that has to be rinsed out.",
        (Dry,), _masses, _planned_mass,
        lambda step, grams: replace(step, endpoint=DRY_ENDPOINTS[0], mass_g=grams), frozenset({
            "too-little-agent", "too-much-agent", "bench-too-little-agent",
            code_of(How.BOUND), code_of(How.HELD)})),
    Idea(
        "pH", "Which pH", "pH", "",
        "Find a pH at which as much goes the way of the plan as at any.",
        "An acid or an amine leaves the water only uncharged. Two units to the right side of its "
        "pKa a hundredth is charged still; on the wrong side, nearly all.",
        (Adjust,), lambda _: tuple(float(pH) for pH in range(2, 14)),
        lambda step: step.until_pH, lambda step, pH: replace(step, until_pH=pH), frozenset({
            "not-set-free", "ph-not-reached", "targets-not-separated", "neutrals-carried-along",
            code_of(How.NOT_SET_FREE), code_of(How.DISSOLVED)}), is_peak=True),
)}


def ideas_of(step: Step, exercise: Exercise, found: str = "") -> tuple[Idea, ...]:
    """What can be tried at a step; of a finding there (its code), what may mend it."""
    is_brine = any(bottle(key, exercise.setup).is_brine for key in step.materials())
    return tuple(
        idea for idea in IDEAS.values()
        if isinstance(step, idea.kinds) and idea.with_brine in (None, is_brine)
        and (not found or found in idea.mends))
