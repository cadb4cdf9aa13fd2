"""What a way of doing the workup would leave in each flask: a few draws of a run, by kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.measures import measure
from workups.chemistry.plan import Dry
from workups.chemistry.run import Outcome, Run

from ..assessment import Band

Array = NDArray[np.float64]

KINDS = ("product", "solvent", "water", "salt", "agent", "acid", "other")


@dataclass(frozen=True)
class Holding:
    """Contents of one weighed flask, draw by draw: masses [g], each (N,).

    ``weighed`` its band on the balance where that is known from the whole run; whatever is made
    of a holding has none.
    """

    product: Array
    solvent: Array
    water: Array
    salt: Array
    agent: Array
    acid: Array
    other: Array
    weighed: Band | None = field(default=None, kw_only=True)

    @cached_property
    def mass_g(self) -> Array:
        """All of it, (N,)."""
        return np.asarray(sum(getattr(self, k) for k in KINDS), dtype=np.float64)

    @cached_property
    def usual_g(self) -> float:
        """Median of all of it."""
        return float(np.median(self.mass_g))

    @cached_property
    def liquid_g(self) -> Array:
        """Solvent and water [g], (N,)."""
        return self.solvent + self.water

    def share(self, kind: str) -> Array:
        """Mass fraction of one kind, (N,)."""
        return np.asarray(getattr(self, kind) / np.maximum(self.mass_g, 1e-9))

    def spread(self, factors: Array) -> Holding:
        """Every draw with every factor on all that is in the flask, (N * factors,)."""
        return Holding(*(np.outer(getattr(self, k), factors).ravel() for k in KINDS))

    def plus_agent(self, grams: Array) -> Holding:
        """Every draw with every mass of drying agent added, (N * grams,)."""
        many = self.spread(np.ones(len(grams)))
        return replace(many, agent=many.agent + np.tile(grams, len(self.product)))

    def product_times(self, factors: Array) -> Holding:
        """Every draw with factors of its own, (N, k), on the product and the liquid in it."""
        every = np.ones(factors.shape)

        def part(kind: str) -> Array:
            times = factors if kind in ("product", "solvent", "water") else every
            return np.asarray((getattr(self, kind)[:, None] * times).ravel())

        return Holding(*(part(k) for k in KINDS))

    def towards(self, other: Holding, parts: Array) -> Holding:
        """On the geometric way of each kind to another holding of the same draws.

        ``parts`` (N, k), 0 is this one, 1 the other.
        """

        def along(kind: str) -> Array:
            here, there = (np.maximum(getattr(h, kind), 1e-12)[:, None] for h in (self, other))
            return np.asarray((here * (there / here) ** parts).ravel())

        return Holding(*(along(k) for k in KINDS))

    def between(self, other: Holding, parts: Array) -> Holding:
        """Mixtures of two ends of the same draws; ``parts`` 0 is this one, 1 the other."""

        def mixed(kind: str) -> Array:
            here, there = getattr(self, kind), getattr(other, kind)
            return np.asarray((here[:, None] + (there - here)[:, None] * parts).ravel())

        return Holding(*(mixed(k) for k in KINDS))


@dataclass(frozen=True)
class DryingSample:
    """One use of a drying agent, draw by draw: agent needed and put in [g], water held."""

    agent: str
    needed_g: Array
    loose_g: Array
    mass_g: Array
    free_mL: Array
    droplets_uL_mL: Array


@dataclass(frozen=True)
class Sample:
    """One way of doing the workup: what each target's flask holds, drying and volumes.

    ``holdings`` by target; ``drying`` by step id; ``volumes_mL`` by step id and flask.
    """

    holdings: Mapping[str, Holding]
    drying: Mapping[str, DryingSample]
    volumes_mL: Mapping[tuple[str, str], Array]

    def holding(self, target: str, holding: Holding) -> Sample:
        """The same with another content of one flask."""
        return replace(self, holdings={**self.holdings, target: holding})


def sample_of(run: Run, volumes: frozenset[tuple[str, str]] = frozenset()) -> Sample:
    """What a run leaves. ``volumes`` are the (step id, flask) pairs that were recorded."""
    holdings = {t.substance: _holding(run, t.substance) for t in run.inventory.setup.targets}
    drying = {
        step.id: _drying(run, step, o)
        for _, step, o in run.of(Dry) if o.facts.drying is not None}
    seen = {
        (o.step.id, flask): run.inventory.volume_mL(o.after.flasks[flask].liquid())
        for o in run.outcomes
        for step, flask in volumes
        if step == o.step.id and flask in o.after.flasks
    }
    return Sample(holdings, drying, seen)


def _holding(run: Run, target: str) -> Holding:
    found = measure(run, target)
    return Holding(*(np.asarray(getattr(found, f"{k}_g")) for k in KINDS))


def _drying(run: Run, step: Dry, outcome: Outcome) -> DryingSample:
    facts, inv = outcome.facts.drying, run.inventory
    assert facts is not None
    organic_mL = inv.volume_mL(outcome.after.flasks[step.flask].organic)
    drops = facts.droplets_after_mL * 1e3 / np.maximum(organic_mL, 1e-6)
    return DryingSample(
        facts.agent,
        facts.needed_g,
        inv.practice["loose_g"],
        facts.mass_g,
        facts.free_mL,
        np.asarray(drops),
    )
