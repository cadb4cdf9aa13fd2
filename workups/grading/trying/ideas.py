"""The ideas of a workup that can be tried by doing, and where."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from workups.chemistry.kinds import bottle
from workups.chemistry.plan import DRY_ENDPOINTS, Adjust, Dry, Extract, Step, Wash
from workups.exercise.exercise import Exercise

_MOST_PORTIONS = 6
_VOLUMES_ML = (2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0)
_MASSES_G = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0)


@dataclass(frozen=True)
class Idea:
    """One choice of a step: its values, and the step with another value.

    ``question`` is answered by finding a value; ``is_peak``: the best value is sought, else the
    least that is enough. ``said`` is a value's name with its unit.
    """

    key: str
    title: str
    of: str
    unit: str
    question: str
    why: str
    fits: Callable[[Step, Exercise], bool]
    values: Callable[[Step], tuple[float, ...]]
    planned: Callable[[Step], float | None]
    changed: Callable[[Step, float], Step]
    is_peak: bool = False


def _with_portions(step: Step, count: float) -> Step:
    assert isinstance(step, Extract | Wash)
    total = step.portions * step.volume_mL
    return replace(step, portions=int(count), volume_mL=total / count)


def _with_volume(step: Step, volume_mL: float) -> Step:
    assert isinstance(step, Extract | Wash)
    return replace(step, volume_mL=volume_mL)


def _with_mass(step: Step, mass_g: float) -> Step:
    assert isinstance(step, Dry)
    return replace(step, endpoint=DRY_ENDPOINTS[0], mass_g=mass_g)


def _with_pH(step: Step, pH: float) -> Step:
    assert isinstance(step, Adjust)
    return replace(step, until_pH=pH)


def _volumes(step: Step) -> tuple[float, ...]:
    assert isinstance(step, Wash)
    return tuple(sorted({*_VOLUMES_ML, step.volume_mL}))


def _is_brine(step: Step, exercise: Exercise) -> bool:
    return isinstance(step, Wash) and bottle(step.material, exercise.setup).is_brine


def _planned_mass(step: Step) -> float | None:
    weighed = isinstance(step, Dry) and step.endpoint == DRY_ENDPOINTS[0]
    return step.mass_g if isinstance(step, Dry) and weighed else None


def _masses(step: Step) -> tuple[float, ...]:
    planned = _planned_mass(step)
    return tuple(sorted({*_MASSES_G, *([planned] if planned else [])}))


IDEAS: Mapping[str, Idea] = {idea.key: idea for idea in (
    Idea(
        "portions", "Several small portions", "portions", "",
        "How many portions are enough, so that one more changes less than a per cent?",
        "The same volume, divided: each fresh portion takes its share of what the portions before "
        "left. Where nearly all goes over at once, dividing brings little; where it hesitates, "
        "much.",
        lambda step, exercise: (
            isinstance(step, Extract | Wash) and not _is_brine(step, exercise)),
        lambda _: tuple(float(n) for n in range(1, _MOST_PORTIONS + 1)),
        lambda step: float(step.portions) if isinstance(step, Extract | Wash) else None,
        _with_portions),
    Idea(
        "brine", "How much brine", "brine", "mL",
        "How much brine is enough, so that the next step more changes less than a per cent?",
        "Salt takes the activity out of water, so brine draws water from a wet organic layer. It "
        "does so with little; a drying agent has to take what brine leaves.",
        _is_brine, _volumes, lambda step: step.volume_mL if isinstance(step, Wash) else None,
        _with_volume),
    Idea(
        "agent", "How much drying agent", "agent", "g",
        "How much agent is enough, so that the next step more changes less than a per cent?",
        "An agent takes up water until its own hydrate is in balance with what is left. Less than "
        "that leaves water; more takes up nothing, and holds solution that has to be rinsed out.",
        lambda step, _: isinstance(step, Dry), _masses, _planned_mass, _with_mass),
    Idea(
        "pH", "Which pH", "pH", "",
        "Find a pH at which as much goes the way of the plan as at any.",
        "An acid or an amine leaves the water only uncharged. Two units to the right side of its "
        "pKa a hundredth is charged still; on the wrong side, nearly all.",
        lambda step, _: isinstance(step, Adjust),
        lambda _: tuple(float(pH) for pH in range(2, 14)),
        lambda step: step.until_pH if isinstance(step, Adjust) else None,
        _with_pH, is_peak=True),
)}


def ideas_of(step: Step, exercise: Exercise) -> tuple[Idea, ...]:
    """What can be tried at a step."""
    return tuple(idea for idea in IDEAS.values() if idea.fits(step, exercise))
