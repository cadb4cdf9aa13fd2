"""The drying agent: none, too little, left in, come through; water carried over; no rinses."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from workups.chemistry.plan import Add, Dry, Filter, Parting, Plan, Rinse, Transfer

from ..orphans import without_orphans
from .drying_marks import ABOUT, NONE, TOO_LITTLE
from .scenarios import Bench, Maker, Scenario, log_middles

LITTLE_SHARE = 0.4
CARRIED_ML = (0.5, 1.0, 2.5)
FINES_SHARE, HYDRATE_MASS = (0.01, 0.15), 1.3


def _dries(bench: Bench) -> list[Dry]:
    return bench.plan.of(Dry)


def no_agent(bench: Bench) -> Iterator[Scenario]:
    """A drying step that did not take place."""
    for step in _dries(bench):
        sample = bench.tried(without_orphans(bench.plan.without(step.id)))
        if sample is not None:
            yield Scenario(sample, drying={step.id: NONE})


def too_little(bench: Bench) -> Iterator[Scenario]:
    """Less agent than the water asks for: as recorded, or (not recorded) a part of the need."""
    for step in _dries(bench):
        used = bench.sample.drying.get(step.id)
        if used is None:
            continue
        if step.endpoint == "weighed":
            yield Scenario(bench.sample, drying={step.id: TOO_LITTLE})
            continue
        mass = LITTLE_SHARE * float(np.median(used.needed_g))
        sample = bench.tried(
            bench.plan.replacing(replace(step, endpoint="weighed", mass_g=max(mass, 0.01)))
        )
        if sample is not None:
            yield Scenario(sample, drying={step.id: TOO_LITTLE})


def _filters(bench: Bench) -> list[Filter]:
    dried = {s.flask for s in _dries(bench)}
    return [s for s in bench.plan.of(Filter) if s.flask in dried]


def not_filtered(bench: Bench) -> Iterator[Scenario]:
    """Poured over with the agent in it."""
    for step in _filters(bench):
        poured = Transfer(id=step.id, flask=step.flask, into=step.into)
        sample = bench.tried(bench.plan.replacing(poured))
        if sample is not None:
            yield Scenario(sample)


def fines(bench: Bench) -> Iterator[Scenario]:
    """A part of a powdered agent, with the water it holds, came through the filter."""
    if not _filters(bench):
        return
    for target in bench.targets:
        for used in bench.sample.drying.values():
            if bench.tables.agents[used.agent].form != "powder":
                continue
            solid = float(np.median(used.mass_g)) * HYDRATE_MASS
            grams = solid * log_middles(*FINES_SHARE, 12)
            holding = bench.sample.holdings[target].plus_agent(grams)
            yield Scenario(bench.sample.holding(target, holding), target, width_g=0.05 * solid / 12)


def carried_over(bench: Bench) -> Iterator[Scenario]:
    """Some of the last water layer went along into the flask that was dried."""
    for step in _dries(bench):
        at = bench.plan.index(step.id)
        liquid = _last_aqueous(bench.plan.of(Parting, at), bench.tables.solvents)
        for volume in CARRIED_ML:
            carried = Add(id="carried-over", flask=step.flask, material=liquid, volume_mL=volume)
            sample = bench.tried(bench.plan.inserting(at, carried))
            if sample is not None:
                yield Scenario(sample, drying={step.id: ABOUT})


def _last_aqueous(before: Sequence[Parting], solvents: Container[str]) -> str:
    used = [key for s in before for key in s.materials()]
    return next((m for m in reversed(used) if m not in solvents), "water")


def no_rinse(bench: Bench) -> Iterator[Scenario]:
    """Neither the cake nor any vessel was rinsed."""
    steps = tuple(
        replace(s, rinses=0) if isinstance(s, Filter | Transfer) else s
        for s in bench.plan.steps
        if not isinstance(s, Rinse)
    )
    if steps == bench.plan.steps:
        return
    sample = bench.tried(Plan(steps))
    if sample is not None:
        yield Scenario(sample)


MAKERS: Mapping[str, Maker] = {
    "no-rinse": no_rinse,
    "no-agent": no_agent,
    "too-little-agent": too_little,
    "agent-in-flask": not_filtered,
    "fines": fines,
    "aqueous-carried-over": carried_over,
}
