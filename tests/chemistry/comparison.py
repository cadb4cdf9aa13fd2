"""Holds a nominal run of the engine against the scalar simulation, step by step."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.draws import Draws
from workups.chemistry.plan import Plan
from workups.chemistry.practice import PRACTICE, practice_value
from workups.chemistry.run import Run, simulate
from workups.chemistry.setup import Setup

from .scalar.bench import Bench
from .scalar.constants import brought_along
from .scalar.simulate import simulate as simulate_scalar

RELATIVE = 1e-6
# A trace: a billionth of what was put in of the component, a millionth of a micromole.
TRACE_OF_INPUT, TRACE_MMOL = 1e-9, 1e-9
PHASES = {"organic": "organic", "droplets": "drops", "aqueous": "water", "solid": "solid"}


def nominal(plan: Plan, setup: Setup) -> Run:
    return simulate(plan, setup, Draws(0, 1))


def practice(setup: Setup) -> dict[str, float]:
    return {name: practice_value(name, setup.values).value for name in PRACTICE}


def disagreements(plan: Plan, setup: Setup) -> list[str]:
    """Every number of a run in which the two simulations differ, in plain words."""
    run = nominal(plan, setup)
    found: list[str] = []
    with brought_along(setup):
        for i, bench in enumerate(simulate_scalar(plan, setup, practice(setup))):
            found += [f"{plan.steps[i].id} {plan.steps[i].verb}: {line}"
                      for line in _differences(run, i, bench)]
            if found:
                break
    return found


def _differences(run: Run, index: int, bench: Bench) -> Iterator[str]:
    state, facts = run.outcomes[index].after, run.outcomes[index].facts
    if set(state.flasks) != set(bench.vessels):
        yield f"flasks {sorted(state.flasks)} and {sorted(bench.vessels)}"
        return
    for name, flask in state.flasks.items():
        for phase, theirs in PHASES.items():
            yield from _amounts(run, bench, f"{name}, {phase}", getattr(flask, phase)[:, 0],
                                getattr(bench.vessels[name], theirs))
    for where, ours, other in (
        ("waste", state.waste, bench.waste), ("film", state.films, bench.films),
    ):
        for name in set(ours) | set(other):
            amounts = ours[name][:, 0] if name in ours else run.inventory.none()[:, 0]
            yield from _amounts(run, bench, f"{where} {name}", amounts, other.get(name, {}))
    yield from _amounts(run, bench, "air", state.air[:, 0], bench.air)
    yield from _amounts(run, bench, "put in", state.put_in[:, 0], bench.put_in)
    if facts.gas_mmol is not None:
        yield from _number("gas", float(facts.gas_mmol[0]), bench.gas_mmol,
                           TRACE_MMOL + TRACE_OF_INPUT * bench.put_in.get("carbon_dioxide", 0.0))
    if facts.weighed_g is not None and bench.weighed_g is not None:
        yield from _number("mass", float(facts.weighed_g[0]), bench.weighed_g, 1e-9)
    for ours, theirs in zip(facts.shakes, bench.shakes, strict=True):
        for name in ("pH", "organic_mL", "aqueous_mL", "organic_density", "aqueous_density",
                     "fill", "gas_mmol", "stoppered_Pa"):
            if name == "pH" and theirs["aqueous_mL"] <= 0:
                continue
            yield from _number(name, float(getattr(ours, name)[0]), theirs[name], 1e-8)
        for key, turned in theirs["reacted"].items():
            yield from _number(f"reacted {key}", float(ours.reacted[key][0]), turned, TRACE_MMOL)


def _amounts(
    run: Run, bench: Bench, where: str, ours: object, theirs: dict[str, float]
) -> Iterator[str]:
    for key, row in run.inventory.index.items():
        floor = TRACE_MMOL + TRACE_OF_INPUT * abs(bench.put_in.get(key, 0.0))
        yield from _number(f"{where}, {key}", float(ours[row]), theirs.get(key, 0.0), floor)


def _number(what: str, ours: float, theirs: float, floor: float) -> Iterator[str]:
    if not abs(ours - theirs) <= RELATIVE * abs(theirs) + floor:
        yield f"{what}: {ours:.12g}, scalar {theirs:.12g}"
