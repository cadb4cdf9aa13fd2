"""Ranked explanations of a record (see the explanations in ``hypotheses``).

Each explanation is a way in which the workup may have gone or a reading been written. The plan as
done is carried out anew with just that one thing changed, in a few draws of all uncertain
constants, and the record is held against what would then be in the flask: weighings, drying agent
and its look, volumes, signs of purity. Prior times likelihood, over the sum, is the probability.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workups.chemistry.readings import Readings
from workups.chemistry.run import Run

from ..assessment import Band, Hypothesis
from ..case import Case
from ..expected import weighed_mass
from ..rule import band
from ..slips import NOTHING_WRONG, SLIPS, SOMETHING_ELSE, priors
from . import all_scenarios
from .evidence import Rival, evidence, expected_band
from .judging import Judged, judged, something_else
from .record import BenchRecord, bench_record
from .scenarios import Bench, Scenario, bench_of

PROBABILITY_DECIMALS = 9
LEAST_SHOWN = 0.005
EQUAL_WITHIN = 2.0


@dataclass(frozen=True)
class Explanations:
    """Everything about a workup as done that does not depend on the masses recorded."""

    bench: Bench
    ways: Mapping[str, tuple[Scenario, ...]]


def diagnose(done: Case, model: Run, readings: Readings) -> tuple[Hypothesis, ...]:
    """Explanations of the readings, likeliest first.

    The probabilities of all sum to 1; those under half a per cent are left out.

    Parameters
    ----------
    done : the plan as it was carried out, with the amounts really used.
    model : the instructor's route, for the class expectation.
    readings : the bench record; without a net mass there is nothing to explain.
    """
    record = bench_record(done.exercise.setup, done.plan.steps, readings)
    if not record.masses:
        return ()
    known = explanations(done, frozenset(record.volumes_mL))
    bands = {m.target: band(weighed_mass(model, m.target), "g") for m in record.masses}
    return ranked(known, record, bands)


def explanations(done: Case, volumes: frozenset[tuple[str, str]]) -> Explanations:
    """Carry out the workup in all the ways of all explanations. ``volumes`` as recorded."""
    bench = bench_of(done, volumes)
    return Explanations(bench, all_scenarios(bench))


def probabilities(known: Explanations, record: BenchRecord) -> Mapping[str, float]:
    """Probability of each explanation that can be, by key."""
    return _posterior(known, record, _all_judged(known, record))


def _all_judged(known: Explanations, record: BenchRecord) -> Mapping[str, Judged]:
    return {k: judged(known.bench, record, ways) for k, ways in known.ways.items()}


def _posterior(
    known: Explanations, record: BenchRecord, found: Mapping[str, Judged]
) -> Mapping[str, float]:
    prior = priors(known.bench.case.exercise.priors)
    weights = {k: prior[k] * j.likelihood for k, j in found.items()}
    weights[SOMETHING_ELSE] = prior[SOMETHING_ELSE] * something_else(known.bench, record)
    total = sum(weights.values())
    if total <= 0:
        return {k: float(k == SOMETHING_ELSE) for k in weights}
    return {k: round(w / total, PROBABILITY_DECIMALS) for k, w in weights.items()}


def ranked(
    known: Explanations, record: BenchRecord, class_bands: Mapping[str, Band]
) -> tuple[Hypothesis, ...]:
    """Explanations worth showing, with evidence and a question, likeliest first, then by key."""
    found = _all_judged(known, record)
    chances = _posterior(known, record, found)
    order = sorted(chances, key=lambda k: (-chances[k], k))
    plain = known.ways[NOTHING_WRONG][0]
    ways = {k: best if k in found and (best := found[k].best) else plain for k in order}
    listed = [k for k in order if chances[k] >= LEAST_SHOWN] or order[:1]
    hypotheses: list[Hypothesis] = []
    for key, place in zip(listed, places([chances[k] for k in listed]), strict=True):
        way = ways[key]
        about = next((m for m in record.masses if way.hit in ("", m.target)), record.masses[0])
        said = evidence(key, known.bench, record, way, _rival(key, listed, ways), class_bands)
        expected = expected_band(about, way)
        slip = SLIPS[key]
        hypotheses.append(
            Hypothesis(key, slip.title, chances[key], said, slip.question, expected, place)
        )
    return tuple(hypotheses)


def places(chances: Sequence[float]) -> tuple[int, ...]:
    """Places of probabilities that are sorted from high to low; what fits equally well shares one.

    The weights beforehand are common practice without a source, right to a factor of two at best,
    so what is nearer than that to the first of its place is not put behind it.

    >>> places([0.4, 0.28, 0.12, 0.07])
    (1, 1, 3, 3)
    """
    found: list[int] = []
    first = math.inf
    for number, chance in enumerate(chances, start=1):
        alike = bool(found) and first < EQUAL_WITHIN * chance
        found.append(found[-1] if alike else number)
        first = first if alike else chance
    return tuple(found)


def _rival(key: str, listed: Sequence[str], ways: Mapping[str, Scenario]) -> Rival:
    """What an explanation is held against in words: nothing wrong, or else the likeliest other."""
    if key not in (NOTHING_WRONG, SOMETHING_ELSE):
        return Rival(ways[NOTHING_WRONG], "nothing wrong")
    other = next((k for k in listed if k not in (NOTHING_WRONG, SOMETHING_ELSE)), NOTHING_WRONG)
    return Rival(ways[other], f"“{SLIPS[other].title}”")
