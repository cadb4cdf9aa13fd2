"""The plan as it was carried out, from the marks of the bench record."""

from __future__ import annotations

from dataclasses import replace

from workups.chemistry.plan import Dry, Plan, Step
from workups.chemistry.readings import DoneStep, DryingRecord, Readings


def plan_as_done(plan: Plan, readings: Readings) -> Plan:
    """The plan with skipped steps left out, changed ones as changed, added ones put in.

    A recorded mass of drying agent replaces the planned endpoint. With no marks at all the plan
    is taken as carried out.
    """
    steps = plan.steps
    for done in readings.steps:
        steps = _with(steps, done)
    records = {d.step: d for d in readings.drying}
    return Plan(tuple(_as_recorded(s, records.get(s.id)) for s in steps))


def _as_recorded(step: Step, record: DryingRecord | None) -> Step:
    if not isinstance(step, Dry) or record is None or record.agent_mass_g is None:
        return step
    minutes = step.minutes if record.minutes is None else record.minutes
    return replace(step, endpoint="weighed", mass_g=record.agent_mass_g, minutes=minutes)


def _with(steps: tuple[Step, ...], done: DoneStep) -> tuple[Step, ...]:
    ids = [s.id for s in steps]
    if done.mark == "added":
        at = ids.index(done.after) + 1 if done.after in ids else len(steps)
        return (*steps[:at], done.step, *steps[at:])
    if done.step.id not in ids:
        return steps
    at = ids.index(done.step.id)
    if done.mark == "skipped":
        return steps[:at] + steps[at + 1 :]
    if done.mark == "changed":
        return (*steps[:at], done.step, *steps[at + 1 :])
    return steps
