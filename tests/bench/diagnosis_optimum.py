"""The best that any method could do on the simulated students: Bayes by brute force.

For every slip that a plan allows, a cloud of benches is drawn from the generator; how likely a
record is, given one bench, is the generator's own chain of chances (balance noise, rounding, what
is written down, what is noticed), written out here as a density. The mean over the cloud is the
likelihood of the record under the slip. Nothing of the diagnosis is used.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Dry, Plan
from workups.chemistry.readings import Readings
from workups.chemistry.run import simulate
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.grading.slips import priors
from workups.invented_students import applicable_slips
from workups.invented_students import writing as w
from workups.invented_students.accidents import Accident, possible_accidents
from workups.invented_students.dice import Dice
from workups.invented_students.truth import Truth, World, truth_of, world_of
from workups.words.numbers import balance_decimals

CLOUD_SEED = 31_337_001
BLOCK = 500
FLASK_G, VIAL_G = (45.0, 75.0), (12.0, 16.0)
# Kernel: a share of the spread of faultless masses, and of the distance from them.
KERNEL_NEAR, KERNEL_FAR = 0.15, 0.02


@dataclass(frozen=True)
class Weighed:
    """Weighings of one record in the numbers the densities need."""

    tare: float
    gross: tuple[float, ...]
    tare_pan: tuple[str, ...]
    gross_pan: tuple[str, ...]
    numbers_differ: bool
    only_last: bool = False


@dataclass(frozen=True)
class Cloud:
    """Benches of one slip as arrays (n,): nets (n, k) per target, hits, items, signs, drying."""

    slip: str
    hits: np.ndarray
    items: np.ndarray
    nets: Mapping[str, np.ndarray]
    counts: Mapping[str, np.ndarray]
    mass: Mapping[str, np.ndarray]
    signs: Mapping[tuple[str, str], Mapping[str, np.ndarray]]
    melting: Mapping[str, np.ndarray]
    drying: Mapping[str, Mapping[str, np.ndarray]]
    volumes: Mapping[tuple[str, str], np.ndarray]


class Optimum:
    """Posterior of every slip for records of one exercise and plan."""

    def __init__(self, exercise: Exercise, plan: Plan, benches: int = 2000) -> None:
        self.exercise, self.plan = exercise, plan
        self._worlds: dict[tuple[Plan, object], list[World]] = {}
        slips = applicable_slips(exercise, plan)
        self.clouds = {s: self._cloud(s, benches) for s in slips}
        weights = priors(exercise.priors)
        total = sum(weights[s] for s in slips)
        self.prior = {s: weights[s] / total for s in slips}
        ordinary = self.clouds["nothing-wrong"]
        self.usual = {t: (float(np.median(m)), float(np.std(m))) for t, m in ordinary.mass.items()}
        self._worlds.clear()

    def posterior(self, readings: Readings) -> dict[str, float]:
        """Probability of every slip that the plan allows."""
        found = {s: self.prior[s] * float(np.mean(self.likelihood(c, readings)))
                 for s, c in self.clouds.items()}
        total = sum(found.values())
        return {s: v / total if total > 0 else self.prior[s] for s, v in found.items()}

    def likelihood(self, cloud: Cloud, readings: Readings) -> np.ndarray:
        """Density of a record, bench by bench."""
        found = np.ones(len(cloud.hits))
        for target, record in readings.targets.items():
            seen = _weighed(record.weighings)
            hit = cloud.hits == target
            plain = self._masses(cloud, target, seen) * self._ticks("", seen, cloud)
            if hit.any():
                mine = self._slipped(cloud, target, seen) * self._ticks(cloud.slip, seen, cloud)
                plain = np.where(hit, mine, plain)
            found = found * plain * _signs(cloud, target, record.witnesses)
        return found * self._drying(cloud, readings) * _volumes(cloud, readings)

    def _masses(self, cloud: Cloud, target: str, seen: Weighed) -> np.ndarray:
        """Tare and full readings with the balance's noise and rounding, exactly normal.

        A single full reading with ``only_last`` stands for the last one of several.
        """
        glass = self.exercise.setup.glassware
        d = glass.balance_readability_g
        s = d if glass.balance_repeatability_g is None else glass.balance_repeatability_g
        variance = s * s + d * d / 12.0
        low, high = VIAL_G if "vial" in self._flask(target) else FLASK_G
        if not low - 5 * s <= seen.tare <= high + 5 * s:
            return np.zeros(len(cloud.hits))
        k = len(seen.gross)
        nets = cloud.nets[target][:, -1:] if seen.only_last else cloud.nets[target][:, :k]
        middle, spread = self.usual_of(target)
        far = np.abs(nets[:, -1] - middle)
        kernel = np.hypot(KERNEL_NEAR * spread, KERNEL_FAR * far)
        off = np.asarray(seen.gross) - seen.tare - nets
        shared = (variance + kernel**2) / variance
        quad = (off**2).sum(axis=1) - shared * off.sum(axis=1) ** 2 / (1.0 + k * shared)
        scale = (2 * math.pi * variance) ** (-k / 2) / np.sqrt(1.0 + k * shared)
        density = scale * np.exp(-0.5 * quad / variance) / (high - low)
        same_count = seen.only_last | (cloud.counts[target] == k)
        return np.where(same_count, np.nan_to_num(density), 0.0)

    def usual_of(self, target: str) -> tuple[float, float]:
        """Median and spread of faultless masses [g]."""
        return self.usual[target]

    def _flask(self, target: str) -> str:
        return next(t.flask for t in self.exercise.setup.targets if t.substance == target)

    def _slipped(self, cloud: Cloud, target: str, seen: Weighed) -> np.ndarray:
        """The same where the slip is one of writing: over what may have been on the display."""
        total = np.zeros(len(cloud.hits))
        decimals = balance_decimals(self.exercise.setup.glassware.balance_readability_g)
        for weight, source in _sources(cloud.slip, seen, decimals):
            total = total + weight * self._masses(cloud, target, source)
        return total

    def _ticks(self, slip: str, seen: Weighed, cloud: Cloud) -> np.ndarray:
        """Chance of the ticks on the pan and of the flask numbers."""
        n = len(cloud.hits)
        number = _numbers(slip, seen.numbers_differ)
        ticked = bool(seen.tare_pan or seen.gross_pan)
        if slip in ("object-at-gross", "object-at-tare"):
            mine, other = ((seen.gross_pan, seen.tare_pan) if slip == "object-at-gross"
                           else (seen.tare_pan, seen.gross_pan))
            if not ticked:
                return np.full(n, 1.0 - w.OBJECT_TICKED) * number
            same = (cloud.items == (mine[0] if mine else "")) & (not other)
            return np.where(same, w.OBJECT_TICKED, 0.0) * number
        return np.full(n, 0.0 if ticked else 1.0) * number

    def _drying(self, cloud: Cloud, readings: Readings) -> np.ndarray:
        records = {r.step: r for r in readings.drying}
        found = np.ones(len(cloud.hits))
        for step in self.plan.steps:
            if not isinstance(step, Dry):
                continue
            used, record = cloud.drying.get(step.id), records.get(step.id)
            if record is None:
                there = used["there"] if used else np.zeros(len(found))
                found = found * np.where(there > 0, 1.0 - w.DRYING_WRITTEN, 1.0)
            elif used is None:
                return np.zeros(len(found))
            else:
                found = found * used["there"] * w.DRYING_WRITTEN * _agent(used, record)
        return found

    def _cloud(self, slip: str, benches: int) -> Cloud:
        ways = possible_accidents(self.exercise, self.plan, slip)
        each = -(-benches // len(ways))
        truths: list[Truth] = []
        for number, way in enumerate(ways):
            blocks = self._worlds_of(way, each)
            for i in range(each):
                dice = Dice(50_000_000 + 100_000 * number + i)
                truths.append(truth_of(blocks[i // BLOCK], way, i % BLOCK, dice))
        return _as_arrays(slip, truths, self.exercise)

    def _worlds_of(self, way: Accident, count: int) -> list[World]:
        key = (way.plan, repr(way.setup.reaction))
        blocks = self._worlds.setdefault(key, [])
        while len(blocks) * BLOCK < count:
            draws = Draws(CLOUD_SEED, BLOCK, 1 + len(blocks) * BLOCK)
            blocks.append(world_of(simulate(way.plan, way.setup, draws)))
        return blocks


def _numbers(slip: str, differ: bool) -> float:
    """Chance of the flask numbers (differing ones come with another flask only)."""
    if slip == "another-flask":
        return 0.4 if differ else 0.6
    return 0.0 if differ else 1.0


def _weighed(weighings: tuple) -> Weighed:
    tare, *gross = weighings
    numbers = {x.flask_number for x in weighings}
    return Weighed(tare.mass_g, tuple(g.mass_g for g in gross), tare.on_pan[1:],
                   gross[-1].on_pan[1:], len(numbers) > 1)


def _sources(slip: str, seen: Weighed, decimals: int) -> list[tuple[float, Weighed]]:
    """What was on the display, with the chance that it was written as it is on record."""
    last = seen.gross[-1]
    if slip == "tare-gross-swapped":
        # Every full reading was overwritten by the tare; what the earlier ones were is lost.
        if len(set(seen.gross)) > 1:
            return []
        return [(1.0, replace(seen, tare=last, gross=(seen.tare,), only_last=True))]
    if slip == "digits-swapped":
        each = 0.6 / len(seen.gross)
        tares = _turned(seen.tare, decimals)
        found = [(0.4 / len(tares), replace(seen, tare=v)) for v in tares]
        for at, read in enumerate(seen.gross):
            turned = _turned(read, decimals)
            found += [(each / len(turned),
                       replace(seen, gross=(*seen.gross[:at], v, *seen.gross[at + 1:])))
                      for v in turned]
        return found
    if slip == "factor-1000":
        small = tuple(g / 1000.0 for g in seen.gross)
        return [(0.6, replace(seen, gross=small, tare=seen.tare / 1000.0)),
                (0.4, replace(seen, gross=small))]
    if slip == "wrong-decimal":
        return [(0.25, source) for times in (10.0, 0.1) for source in (
            replace(seen, tare=seen.tare * times),
            replace(seen, gross=(*seen.gross[:-1], last * times)))]
    return [(1.0, seen)]


def _turned(mass_g: float, decimals: int) -> list[float]:
    count = len(f"{round(mass_g * 10**decimals):d}") if mass_g > 0 else 0
    found = [w.swapped_digits(mass_g, decimals, p) for p in range(max(count - 1, 0))]
    return [v for v in found if v is not None]


def _signs(cloud: Cloud, target: str, witnesses: tuple) -> np.ndarray:
    """Chance of what was noted and of what was not."""
    found = np.ones(len(cloud.hits))
    there = {x.kind: x for x in witnesses}
    for kind, written in w.WRITTEN.items():
        note = there.get(kind)
        if kind == "mp":
            low = cloud.melting[target]
            if np.isnan(low).all():
                continue
            if note is None:
                found = found * (1.0 - written)
            else:
                z = (note.low_C - low) / w.MP_NOISE_C
                found = found * written * np.exp(-0.5 * z * z) / w.MP_NOISE_C / math.sqrt(
                    2 * math.pi)
        elif note is None:
            found = found * (1.0 - written)
        else:
            found = found * written * cloud.signs[target, kind][note.text]
    nothing = cloud.mass[target] < w.LEAST_TO_LOOK_AT_G
    return np.where(nothing, 0.0 if there else 1.0, found)


def _agent(used: Mapping[str, np.ndarray], record) -> np.ndarray:
    sd = np.maximum(w.AGENT_RELATIVE * used["agent"], 1e-6)
    edge = w.AGENT_ROUNDING_G / 2.0
    up = (record.agent_mass_g + edge - used["agent"]) / sd
    down = (record.agent_mass_g - edge - used["agent"]) / sd
    if record.agent_mass_g <= w.AGENT_ROUNDING_G + 1e-9:
        down = np.full_like(up, -np.inf)
    mass = _phi(up) - _phi(down)
    if not record.agent_look:
        return mass * (1.0 - w.LOOK_WRITTEN)
    same = (used["look"] == record.agent_look) & (used["liquid"] == record.liquid_look)
    return mass * w.LOOK_WRITTEN * same


def _phi(z: np.ndarray) -> np.ndarray:
    return np.array([0.5 * math.erfc(-v / math.sqrt(2.0)) for v in z])


def _volumes(cloud: Cloud, readings: Readings) -> np.ndarray:
    found = np.ones(len(cloud.hits))
    written = {(v.step, v.flask): v.volume_mL for v in readings.volumes}
    for key, mL in cloud.volumes.items():
        seen = written.get(key)
        if seen is None:
            found = found * (1.0 - w.VOLUME_WRITTEN)
        else:
            sd = w.VOLUME_RELATIVE * mL
            z = (seen - mL) / np.hypot(sd, 1.0 / math.sqrt(12.0))
            found = found * w.VOLUME_WRITTEN * np.exp(-0.5 * z * z) / np.hypot(sd, 0.29)
    return found


def _as_arrays(slip: str, truths: list[Truth], exercise: Exercise) -> Cloud:
    targets = exercise.setup.targets
    keys = [t.substance for t in targets]
    most = {t: max(len(x.nets[t]) for x in truths) for t in keys}
    nets = {t: np.array([list(x.nets[t]) + [np.nan] * (most[t] - len(x.nets[t]))
                         for x in truths]) for t in keys}
    signs: dict[tuple[str, str], dict[str, np.ndarray]] = {}
    for t in keys:
        outcomes = [w.witness_outcomes(x.contents[t]) for x in truths]
        for kind in outcomes[0]:
            signs[t, kind] = {
                text: np.array([o[kind][i][3] for o in outcomes])
                for i, (_, text, _, _) in enumerate(outcomes[0][kind])
            }
    known = tables()
    melting = {
        t.substance: np.array([
            np.nan if (low := w.melting_low_C(x.contents[t.substance], t, known)) is None else low
            for x in truths]) for t in targets
    }
    steps = {d.step for x in truths for d in x.drying}
    drying = {step: _drying_arrays(step, truths) for step in steps}
    volumes = {k: np.array([x.volumes_mL[k] for x in truths])
               for k in truths[0].volumes_mL}
    return Cloud(
        slip, np.array([x.hit for x in truths]), np.array([x.item for x in truths]), nets,
        {t: np.array([len(x.nets[t]) for x in truths]) for t in keys},
        {t: np.array([x.contents[t].mass_g for x in truths]) for t in keys},
        signs, melting, drying, volumes)


def _drying_arrays(step: str, truths: list[Truth]) -> Mapping[str, np.ndarray]:
    uses = [next((d for d in x.drying if d.step == step), None) for x in truths]
    return {
        "there": np.array([float(u is not None) for u in uses]),
        "agent": np.array([u.agent_g if u else 0.0 for u in uses]),
        "look": np.array([u.agent_look if u else "" for u in uses]),
        "liquid": np.array([u.liquid_look if u else "" for u in uses]),
    }
