"""Scenarios: ways in which a record can have come about, and what all of them start from."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.cut import first_draws
from workups.chemistry.measures import measure
from workups.chemistry.plan import Plan, Weigh
from workups.chemistry.run import Run, continue_run, prepare
from workups.chemistry.speciation import NotConverged
from workups.chemistry.steps import MissingFlask
from workups.chemistry.substances import Tables

from ..case import Case
from ..expected import weighed_mass
from ..rule import band
from .densities import bandwidth
from .replay import replayed
from .samples import Sample, sample_of
from .weighing import ORDINARY, Reading

Array = NDArray[np.float64]

DRAWS = 96


@dataclass(frozen=True)
class Scenario:
    """One way: what would be in the flasks, how it was read, how the agent's mass came about.

    ``hit`` is the target that ``reading`` concerns, empty for all of them; ``width_g`` extra
    kernel width where the sample steps through a range coarsely; ``portions`` how many portions
    an extraction had in it, by step id, where they are not those of the steps as recorded.
    """

    sample: Sample
    hit: str = ""
    weight: float = 1.0
    reading: Reading = ORDINARY
    drying: Mapping[str, str] = field(default_factory=dict)
    width_g: float = 0.0
    portions: Mapping[str, int] = field(default_factory=dict)

    def reading_of(self, target: str) -> Reading:
        """How the weighings of one target came about."""
        return self.reading if self.hit in ("", target) else ORDINARY


@dataclass(frozen=True)
class Bench:
    """The workup as done, with few draws, for trying out changes.

    ``asked`` full readings that the plan asks for, by target; ``width_g`` kernel width of the
    mass as done, by target.
    """

    case: Case
    sample: Sample
    asked: Mapping[str, int]
    width_g: Mapping[str, float]
    volumes: frozenset[tuple[str, str]]
    _known: dict[Plan, Sample] = field(default_factory=dict, compare=False)

    @property
    def plan(self) -> Plan:
        """The plan as it was done."""
        return self.case.plan

    @property
    def tables(self) -> Tables:
        """The tables with the exercise's own substances."""
        return self.case.exercise.setup.tables

    @property
    def targets(self) -> tuple[str, ...]:
        """Keys of the targets."""
        return self.case.targets

    def tried(self, plan: Plan, start: Run | None = None) -> Sample | None:
        """What another plan would leave; None where it cannot be carried out.

        ``start`` an empty run to begin from instead, with other amounts in the reaction flask.
        """
        if start is None and plan in self._known:
            return self._known[plan]
        try:
            run = replayed(self.case.run, plan) if start is None else continue_run(start, plan)
            sample = sample_of(run, self.volumes)
        except (MissingFlask, NotConverged, KeyError, ValueError):
            return None
        if start is None:
            self._known[plan] = sample
        return sample


Maker = Callable[[Bench], Iterator[Scenario]]


def bench_of(done: Case, volumes: frozenset[tuple[str, str]]) -> Bench:
    """The workup as done, ready for trying out changes."""
    inv = done.inventory
    draws = replace(inv.draws, count=min(DRAWS, inv.count))
    run = first_draws(done.run, prepare(inv.setup, draws))
    case = Case(done.exercise, done.plan, run)
    sample = sample_of(run, volumes)
    as_done = {
        t: replace(h, weighed=band(weighed_mass(done.run, t), "g"))
        for t, h in sample.holdings.items()
    }
    sample = replace(sample, holdings=as_done)
    widths = {t: bandwidth(h.mass_g, DRAWS) for t, h in sample.holdings.items()}
    asked = {t: _asked(done, t) for t in done.targets}
    return Bench(case, sample, asked, widths, volumes)


def _asked(done: Case, target: str) -> int:
    flask = measure(done.run, target).flask
    weighed = [s for s in done.plan.of(Weigh) if s.flask == flask]
    return weighed[-1].readings if weighed else 2


def scaled(bench: Bench, target: str, factors: Array) -> Scenario:
    """All that is in one target's flask times a range of factors, evenly likely."""
    holding = bench.sample.holdings[target]
    gap = float(np.median(np.diff(np.sort(factors)))) if len(factors) > 1 else 0.0
    width = 0.5 * gap * float(np.median(holding.mass_g))
    return Scenario(bench.sample.holding(target, holding.spread(factors)), target, width_g=width)


def middles(low: float, high: float, count: int) -> Array:
    """Middles of ``count`` even parts of an interval."""
    return np.asarray(low + (high - low) * (np.arange(count) + 0.5) / count)


def log_middles(low: float, high: float, count: int) -> Array:
    """Middles of ``count`` parts of an interval, even in the logarithm."""
    return np.asarray(np.exp(middles(np.log(low), np.log(high), count)))
