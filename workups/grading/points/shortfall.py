"""How far a plan falls short of what the exercise's own routes bring to the balance.

The measure is what happens, never which steps: for each target and draw the share of it that is
weighed, against the least that the model plan and its alternatives bring in the same draw; and
what is weighed beside it, against what the exercise allows and what those routes leave in. The
same draw has the same constants on both sides, so an uncertain constant cancels where it hurts
both alike.

    useful(d)    = share weighed(d) min(1, goal / recovery(d))
    short(d)     = 1 - useful(d) / useful of the right routes(d), at least 0
    excess(d)    = sum over kinds w g(max(0, x(d) - max(allowed, x of the right routes(d))))

with x in g per g of the target that there was. ``g`` says what a share of foreign matter is worth
of the product it spoils: twice the share up to a tenth, then less, and all of it from four fifths
on. Solvent that comes off again weighs less (``w``); drying agent counts double, because nothing
can be said of a product with a solid reagent in it. These weights are judgement: they were set
beside the totals that a fair marker wrote down before (tests/grading/stories.py). What is extracted
beyond the recovery goal counts as if the goal were just met, so that nobody loses points for three
portions where four are used; what stays in the water as a salt is no matter of portions and counts
whole. Where an exercise counts portions instead of setting a goal, the plan is held against what
its own routes bring. Charged of a loss is its mean without the quarter of the draws that is hardest
on the plan: an estimate neither hides a loss nor makes it sure. Where nothing is uncertain that is
the loss itself. The mean of all draws would charge an uncertain constant more than a sure one,
because a loss has more room above than below; and what only the nominal constants lose would be
charged whole or not at all where two outcomes are near each other. Of what is weighed beside the
product all draws count but those above the band that is stated.

What a mixture is worth is not only a matter of grams. A reaction mixture that holds little beside
its product is, poured out and stripped, no isolated product: nothing was done. So the plan is also
held against itself without its workup, the reaction mixture stripped as the plan strips:

    undone(d)    = sum max(0, min(m, m bare) - m routes) / sum max(0, m bare - m routes)

over the substances of the reaction mixture that boiling down leaves in, m in g beside the product.
Up to a half it says nothing; from there on the worth falls, to nothing where nothing was taken out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.measures import (
    TargetMeasure,
    contents_weighed,
    measure,
    neither_water_nor_solvent,
)
from workups.chemistry.plan import START_FLASK, Plan, Strip, Transfer
from workups.chemistry.recovery import extraction_stage, recovery
from workups.chemistry.run import Run
from workups.chemistry.sums import over_rows
from workups.exercise.exercise import Exercise

from ..case import Case
from ..modelrun import ByContent, model_run
from ..recorded.yieldcheck import LEAST_DELIVERED
from .ledger import How, Ledger, ledger_of

Array = NDArray[np.float64]

KINDS = ("water and salt", "drying agent", "solvent", "clinging solvent", "acid",
         "other substances")
# What may be weighed with the product without being held against a plan, in g per g of it, where
# the exercise's own routes leave less (common practice, no source); water and salt have the limit
# of the exercise.
SOLVENT_ALLOWED, CLINGING_ALLOWED, ACID_ALLOWED, OTHER_ALLOWED = 0.03, 0.01, 0.01, 0.03
SPOILT = ((0.0, 0.0), (0.10, 0.20), (0.80, 1.0))
SOLVENT_WEIGHT, AGENT_WEIGHT = 0.65, 2.0
LEAST_WATER_AND_SALT = 0.005
# Less than this to take out, g per g of the product, says nothing of a workup.
LEAST_TO_TAKE_OUT = 0.02
# So that a mean of nothing is the plain one.
TINY = 1e-12
BARE = "only stripped"
GLASS_FREE = 0.02
# The share of the draws that counts, the kindest ones (judgement, beside the stories): of what is
# missing, and of what is weighed beside the product, where the rest lies outside the band stated.
FOREIGN_DRAWS = 0.95


@dataclass(frozen=True)
class Standing:
    """One target at the end of a plan: its ledger, what is weighed with it, and how much of it
    the extraction took (0..1; 1 where nothing is extracted)."""

    ledger: Ledger
    measure: TargetMeasure
    recovered: Array

    def useful(self, goal: float) -> Array:
        """Share weighed, with recovery beyond the goal counted as the goal, (N,)."""
        recovered = np.maximum(self.recovered + self._as_salt, 1e-12)
        return np.asarray(self.ledger.delivered * np.minimum(1.0, goal / recovered))

    def reached(self, goal: float) -> Array:
        """How far the extraction came of its goal, 0..1, (N,)."""
        return np.asarray(np.minimum(1.0, (self.recovered + self._as_salt) / goal))

    @property
    def _as_salt(self) -> Array:
        """What stayed in the water because it is a salt there, as share of the target, (N,): a
        loss that no goal for the portions is there to forgive."""
        salts = [e.mmol for e in self.ledger.entries if e.how is How.NOT_SET_FREE]
        return self.ledger.share(np.asarray(
            sum(salts, np.zeros_like(self.ledger.available_mmol))))

    @cached_property
    def is_weighed(self) -> NDArray[np.bool_]:
        """Whether something of the target is on the balance, draw by draw, (N,)."""
        return np.asarray((self.ledger.delivered >= LEAST_DELIVERED) & bool(self.ledger.vessel))

    @cached_property
    def foreign(self) -> Mapping[str, Array]:
        """What is weighed beside the target, by kind, in g per g of the target at the start."""
        found, inv_total = self.measure, np.maximum(self.measure.available_g, 1e-12)
        grams = (found.water_g + found.salt_g, found.agent_g, found.solvent_g - found.clinging_g,
                 found.clinging_g, found.acid_g, found.other_g)
        return {kind: g / inv_total * self.is_weighed
                for kind, g in zip(KINDS, grams, strict=True)}


def standing_of(run: Run, target: str) -> Standing:
    """How one target stands at the end of a run."""
    stage = extraction_stage(run, target)
    recovered = np.ones(run.inventory.count) if stage is None else recovery(run, target, stage)
    return Standing(ledger_of(run, target), measure(run, target), recovered)


@dataclass(frozen=True)
class Mark:
    """What the right routes of an exercise bring, draw by draw: the least of a target, the least
    that their extraction reaches of its goal, the most of what comes with it (by kind, and
    ``beside_g`` (C, N) by substance), and what each way of losing takes at most; ``delivered`` the
    share of the target that the least of them brings, mean over the draws."""

    useful: Array
    reached: Array
    foreign: Mapping[str, Array]
    beside_g: Array
    losses: Mapping[How, float]
    delivered: float


@lru_cache(maxsize=12)
def _marks(key: ByContent, seed: int, draws: int) -> Mapping[str, Mark]:
    exercise: Exercise = key.exercise
    model = model_run(exercise, seed, draws)
    case = Case(exercise, exercise.model_plan, model)
    others = [case.tried(plan) for plan in exercise.alternatives]
    runs = [model, *(other.run for other in others if other is not None)]
    return {t.substance: _mark(runs, t.substance, _goal(exercise, t.substance))
            for t in exercise.setup.targets}


def _goal(exercise: Exercise, target: str) -> float:
    """The recovery goal; where portions are counted, all that those of the own routes recover."""
    if exercise.fixed_portions is not None:
        return 1.0
    return next(t.recovery_goal for t in exercise.setup.targets if t.substance == target)


def _mark(runs: list[Run], target: str, goal: float) -> Mark:
    standings = [standing_of(run, target) for run in runs]
    bringing = [s for s in standings if float(s.ledger.delivered[0]) >= LEAST_DELIVERED]
    losses: dict[How, float] = {}
    for standing in bringing:
        for how, share in losses_by_how(standing.ledger).items():
            losses[how] = max(losses.get(how, 0.0), share)
    nothing = np.zeros(runs[0].inventory.count)
    return Mark(
        np.min([s.useful(goal) for s in bringing] or [nothing], axis=0),
        np.min([s.reached(goal) for s in bringing] or [nothing], axis=0),
        {kind: np.max([s.foreign[kind] for s in standings], axis=0) for kind in KINDS},
        np.max([_beside_g(run, target, contents_weighed(run, target)) for run in runs], axis=0),
        losses,
        float(np.min([s.ledger.delivered for s in bringing], axis=0).mean()) if bringing else 0.0)


def _beside_g(run: Run, target: str, contents: Array) -> Array:
    """What contents (C, N) [mmol] have beside a target that boiling down leaves in [g], (C, N)."""
    inv = run.inventory
    stays = neither_water_nor_solvent(inv, target)
    return np.asarray(contents * (inv.molar_mass * stays)[:, None] * 1e-3)


@lru_cache(maxsize=64)
def _bare(key: ByContent, seed: int, draws: int, strips: tuple[Strip, ...]) -> Run | None:
    """The reaction mixture poured out and stripped, with no workup at all; None where these strips
    cannot be carried out on it."""
    model = model_run(key.exercise, seed, draws)
    pour = Transfer(id="pour", flask=START_FLASK, into=BARE)
    stripped = (replace(s, id=f"strip-{i}", flask=BARE) for i, s in enumerate(strips))
    tried = Case(key.exercise, key.exercise.model_plan, model).tried(Plan((pour, *stripped)))
    return None if tried is None else tried.run


def _undone(case: Case, standing: Standing, mark: Mark) -> Array:
    """Of what the right routes take out of the reaction mixture, the share that is still weighed
    with a target, 0..1, (N,)."""
    draws, target = case.inventory.draws, standing.ledger.target
    strips = tuple(replace(s, id="strip") for s in case.plan.of(Strip))
    bare = _bare(ByContent(case.exercise), draws.seed, draws.count, strips)
    if bare is None or not standing.is_weighed.any():
        return np.zeros(draws.count)
    untouched_g = _beside_g(bare, target, bare.end.flasks[BARE].total())
    left_g = _beside_g(case.run, target, contents_weighed(case.run, target))
    to_take_g = over_rows(np.maximum(untouched_g - mark.beside_g, 0.0))
    still_g = over_rows(np.maximum(np.minimum(left_g, untouched_g) - mark.beside_g, 0.0))
    least_g = LEAST_TO_TAKE_OUT * np.maximum(standing.measure.available_g, 1e-12)
    return np.asarray(still_g / np.maximum(to_take_g, least_g) * standing.is_weighed)


def losses_by_how(ledger: Ledger) -> dict[How, float]:
    """Mean share of a target lost in each way."""
    found: dict[How, float] = {}
    for entry in ledger.entries:
        found[entry.how] = found.get(entry.how, 0.0) + float(ledger.share(entry.mmol).mean())
    return found


@dataclass(frozen=True)
class TargetShortfall:
    """One target: ``short`` (N,) 0..1 of what right routes bring is missing; ``missed`` (N,) the
    part of it that is missing because the extraction falls short of its goal; ``excess`` by kind
    (N,), g per g of the target; ``undone`` (N,) 0..1 of what a workup takes out was not; its
    standing and the mark it was held against."""

    standing: Standing
    mark: Mark
    short: Array
    missed: Array
    excess: Mapping[str, Array]
    undone: Array

    @property
    def spoilt(self) -> Array:
        """The share of the product that is worth nothing, 0..1, (N,): by what is weighed with it,
        or because it was never isolated."""
        return np.maximum(self.by_excess, self.not_isolated)

    @property
    def not_isolated(self) -> Array:
        """What leaving more than half of the workup undone takes from its worth, 0..1, (N,)."""
        return np.clip(2.0 * self.undone - 1.0, 0.0, 1.0)

    @property
    def by_excess(self) -> Array:
        """What the excess is worth as a share of the product, 0..1, (N,)."""
        comes_off = self.excess["solvent"]
        weights = {"solvent": 0.0, "drying agent": AGENT_WEIGHT}
        stays = np.asarray(sum(weights.get(k, 1.0) * x for k, x in self.excess.items()))
        return np.minimum(_worth(stays) + SOLVENT_WEIGHT * _worth(comes_off), 1.0)


def _worth(share: Array) -> Array:
    shares, worth = zip(*SPOILT, strict=True)
    return np.asarray(np.interp(share, shares, worth))


@dataclass(frozen=True)
class Shortfall:
    """A plan against the right routes of its exercise: the mean over the targets, per draw."""

    targets: tuple[TargetShortfall, ...]

    @cached_property
    def short(self) -> Array:
        """Share of the product that is missing, (N,)."""
        return np.asarray(np.mean([t.short for t in self.targets], axis=0))

    @cached_property
    def spoilt(self) -> Array:
        """What is weighed beside the product and should not be, as a share of it, (N,)."""
        return np.asarray(np.mean([t.spoilt for t in self.targets], axis=0))

    @property
    def brought(self) -> float:
        """Share of all there was that right routes bring, mean over the targets, each counted by
        how much of it is missing."""
        missing = [float(np.mean(t.short)) + TINY for t in self.targets]
        return float(np.average([t.mark.delivered for t in self.targets], weights=missing))

    @property
    def delivered(self) -> float:
        """Share of what right routes bring that is weighed, mean over targets and draws."""
        return 1.0 - float(np.mean(self.short))

    @property
    def worth(self) -> float:
        """The same without what is spoilt by what is weighed beside it."""
        return float(np.mean((1.0 - self.short) * (1.0 - self.spoilt)))


def _on_more_glass(ledger: Ledger, mark: Mark) -> Array:
    """What stays on more glass than in the right routes, up to GLASS_FREE, (N,): extracts kept in
    flasks of their own, a vial instead of the flask. It is lost, and never held against a plan;
    nor is it counted where next to nothing is weighed."""
    films = [e.mmol for e in ledger.entries if e.how is How.ON_GLASS]
    share = ledger.share(np.asarray(sum(films, np.zeros_like(ledger.available_mmol))))
    more = np.clip(share - mark.losses.get(How.ON_GLASS, 0.0), 0.0, GLASS_FREE)
    return np.where(ledger.delivered >= LEAST_DELIVERED, more, 0.0)


def shortfall_of(case: Case) -> Shortfall:
    """How far a plan falls short, with the draws of its run."""
    draws = case.inventory.draws
    marks = _marks(ByContent(case.exercise), draws.seed, draws.count)
    found = []
    for target in case.exercise.setup.targets:
        mark, standing = marks[target.substance], standing_of(case.run, target.substance)
        goal = _goal(case.exercise, target.substance)
        useful = standing.useful(goal)
        asked = mark.useful >= LEAST_DELIVERED
        useful = useful + _on_more_glass(standing.ledger, mark)
        # A draw in which the right routes bring nothing either says nothing of this plan.
        nothing = 0.0 if np.any(asked) else (useful <= 0.0).astype(np.float64)
        short = np.where(asked, 1.0 - useful / np.where(asked, mark.useful, 1.0), nothing)
        short = np.clip(short, 0.0, 1.0)
        missed = np.clip(1.0 - standing.reached(goal) / np.maximum(mark.reached, 1e-12), 0.0, short)
        if case.exercise.fixed_portions is not None:
            missed = np.zeros_like(short)
        wet = max(target.water_and_salt_limit, LEAST_WATER_AND_SALT)
        allowed = dict(zip(KINDS, (wet, LEAST_WATER_AND_SALT, SOLVENT_ALLOWED, CLINGING_ALLOWED,
                                   ACID_ALLOWED, OTHER_ALLOWED), strict=True))
        excess = {kind: np.maximum(
            standing.foreign[kind] - np.maximum(allowed[kind], mark.foreign[kind]), 0.0)
            for kind in KINDS}
        found.append(TargetShortfall(standing, mark, short, missed, excess,
                                     _undone(case, standing, mark)))
    return Shortfall(tuple(found))
