"""Carrying out a changed plan anew only where the change reaches.

A step that is the same as before, and whose flasks all are as they were, leaves them as it did
before: its outcome is taken over. Waste, air and the sum of what was put in are not kept up here,
so a replayed run is good for what is in the flasks, not for a balance of everything.
"""

from __future__ import annotations

from dataclasses import replace

from workups.chemistry.plan import FieldKind, Plan, Step, field_specs
from workups.chemistry.run import Outcome, Run
from workups.chemistry.state import State
from workups.chemistry.steps import carry_out


def replayed(known: Run, plan: Plan) -> Run:
    """The flasks after a plan that differs from a known run's by steps changed, out or put in.

    Raises what carrying out a step raises.
    """
    before = {o.step.id: (i, o) for i, o in enumerate(known.outcomes)}
    kept = {s.id for s in plan.steps}
    gone = [(i, touched(o.step)) for i, o in enumerate(known.outcomes) if o.step.id not in kept]
    state, outcomes, changed = known.start, [], set[str]()
    for step in plan.steps:
        at, old = before.get(step.id, (-1, None))
        changed |= {f for i, flasks in gone if i < at for f in flasks}
        flasks = touched(step)
        if old is not None and old.step == step and not flasks & changed:
            state = _taken_over(state, old.after, flasks)
            facts = old.facts
        else:
            changed |= flasks | (touched(old.step) if old is not None else set())
            state, facts = carry_out(known.inventory, state, step)
        outcomes.append(Outcome(step, state, facts))
    return Run(known.inventory, known.start, tuple(outcomes))


def touched(step: Step) -> set[str]:
    """All flasks that a step names."""
    found: set[str] = set()
    for name, spec in field_specs(type(step)).items():
        if spec.kind is FieldKind.FLASK:
            found.add(getattr(step, name))
        elif spec.kind is FieldKind.FLASKS:
            found |= set(getattr(step, name))
    return found - {""}


def _taken_over(state: State, after: State, flasks: set[str]) -> State:
    """The flasks that a step touched, and the films on their glass, as they were after it."""
    there = {f: after.flasks[f] for f in flasks if f in after.flasks}
    films = {f: after.films[f] for f in flasks if f in after.films}
    weighed = {f: after.weighed[f] for f in flasks if f in after.weighed}
    return replace(
        state,
        flasks={**state.flasks, **there},
        films={**state.films, **films},
        weighed={**state.weighed, **weighed},
        tared=state.tared | (after.tared & flasks),
    )
