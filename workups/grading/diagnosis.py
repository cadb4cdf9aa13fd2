"""Ranked explanations of a mass, each with its evidence and a question to ask.

Bayes: posterior = prior x density of the mass x weight of the other signs, over all slips and
"something else". A ranking for a person who then asks, never a verdict; two things to keep in
view: errors cancel, and mass cannot see identity.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import Dry
from workups.chemistry.readings import Readings
from workups.chemistry.run import Run
from workups.chemistry.yields import mass_by_difference

from .assessment import Band, Hypothesis
from .case import Case
from .explain.masses import RECORDING, TECHNIQUE, Found, MassModel, something_else
from .explain.signs import FACTORS, Sign, signs_of, weight_of
from .explain.words import question_for
from .numbers import interval, mass
from .slips import NOTHING_WRONG, SLIPS, SOMETHING_ELSE, priors

Array = NDArray[np.float64]

LEAST_SHOWN = 0.005
ELSE_PRIOR = 0.02
CLOSE, FAR = 2.0, 0.5


@dataclass(frozen=True)
class _Weighed:
    """A slip with its unnormalised posterior weight and the masses expected under it."""

    key: str
    weight: float
    expected: Band | None


def diagnose(done: Case, model: Run, readings: Readings) -> tuple[Hypothesis, ...]:
    """Explanations of the readings, likeliest first; probabilities of all sum to 1.

    With several targets, those of the one whose mass is oddest. Empty where nothing was weighed.
    """
    del model  # the class band is not what this student did
    ranked = [r for t in done.targets if (r := _of_target(done, t, readings))]
    return min(ranked, key=_nothing_wrong, default=())


def _nothing_wrong(hypotheses: tuple[Hypothesis, ...]) -> float:
    return next((h.probability for h in hypotheses if h.key == NOTHING_WRONG), 0.0)


def _of_target(done: Case, target: str, readings: Readings) -> tuple[Hypothesis, ...]:
    record = readings.targets.get(target)
    net = mass_by_difference(record.weighings, done.exercise.setup.glassware) if record else None
    if record is None or net is None:
        return ()
    masses = MassModel(done, target, Found(net.g, net.u_g, record.weighings))
    signs = signs_of(record, readings, _dries(done))
    weighed = sorted(_weigh_all(done, masses, signs), key=lambda w: (-w.weight, w.key))
    total = sum(w.weight for w in weighed) or 1.0
    return tuple(
        _hypothesis(done, target, w, w.weight / total, masses, signs)
        for w in weighed
        if w.weight / total >= LEAST_SHOWN
    )


def _dries(done: Case) -> bool:
    return any(isinstance(s, Dry) for s in done.plan.steps)


def _weigh_all(done: Case, masses: MassModel, signs: tuple[Sign, ...]) -> Iterator[_Weighed]:
    prior = priors(done.exercise.priors)
    for key, samples_of in TECHNIQUE.items():
        samples = samples_of(masses)
        if samples.size and key in prior:
            density = masses.density(samples)
            middle, low, high = masses.expected_of(samples)
            yield _Weighed(
                key, prior[key] * density * weight_of(signs, key), Band(middle, low, high)
            )
    for key, density_of in RECORDING.items():
        if key in prior:
            yield _Weighed(key, prior[key] * density_of(masses) * weight_of(signs, key), None)
    yield _Weighed(SOMETHING_ELSE, ELSE_PRIOR * something_else(masses), None)


def _hypothesis(
    done: Case,
    target: str,
    weighed: _Weighed,
    probability: float,
    masses: MassModel,
    signs: tuple[Sign, ...],
) -> Hypothesis:
    title = SLIPS[weighed.key].title if weighed.key in SLIPS else "Something else"
    if len(done.targets) > 1:
        title = f"{title} ({done.inventory.names[target]})"
    evidence = tuple(_evidence(weighed, masses, signs))
    return Hypothesis(
        weighed.key, title, probability, evidence, question_for(weighed.key), weighed.expected
    )


def _evidence(weighed: _Weighed, masses: MassModel, signs: tuple[Sign, ...]) -> Iterator[str]:
    found = mass(masses.found.net_g)
    if weighed.expected is not None:
        band = interval(weighed.expected.low, weighed.expected.high, "g")
        yield f"found {found}; with this it would be {band}"
    else:
        middle = mass(float(np.median(masses.base)))
        yield f"found {found}; {middle} would be expected of the steps as done"
    for sign in signs:
        factor = FACTORS.get(sign.key, {}).get(weighed.key, 1.0)
        if factor >= CLOSE:
            yield f"for it: {sign.text}"
        elif factor <= FAR:
            yield f"against it: {sign.text}"
