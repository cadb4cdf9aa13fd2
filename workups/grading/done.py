"""The plan as it was carried out, from the marks of the bench record."""

from __future__ import annotations

from dataclasses import replace

from workups.chemistry.plan import Dry, Plan
from workups.chemistry.readings import DoneStep, Readings


def plan_as_done(plan: Plan, readings: Readings) -> Plan:
    """The plan with skipped steps left out, changed ones as changed, added ones put in.

    A recorded mass of drying agent replaces the planned endpoint. With no marks at all the plan
    is taken as carried out.
    """
    steps = list(plan.steps)
    for done in readings.steps:
        steps = _with(steps, done)
    weighed = {d.step: d for d in readings.drying if d.agent_mass_g is not None}
    recorded = []
    for s in steps:
        record = weighed.get(s.id)
        if isinstance(s, Dry) and record is not None:
            assert record.agent_mass_g is not None
            minutes = s.minutes if record.minutes is None else record.minutes
            s = replace(s, endpoint="weighed", mass_g=record.agent_mass_g, minutes=minutes)
        recorded.append(s)
    return Plan(tuple(recorded))


def _with(steps: list, done: DoneStep) -> list:  # type: ignore[type-arg]
    ids = [s.id for s in steps]
    if done.mark == "added":
        at = ids.index(done.after) + 1 if done.after in ids else len(steps)
        return [*steps[:at], done.step, *steps[at:]]
    if done.step.id not in ids:
        return steps
    at = ids.index(done.step.id)
    if done.mark == "skipped":
        return steps[:at] + steps[at + 1:]
    if done.mark == "changed":
        return [*steps[:at], done.step, *steps[at + 1:]]
    return steps
