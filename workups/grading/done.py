"""The plan as it was carried out, from the marks of the bench record."""

from __future__ import annotations

from dataclasses import dataclass, replace

from workups.chemistry.measures import measure
from workups.chemistry.plan import Dry, Plan, Step, Weigh
from workups.chemistry.readings import DoneStep, DryingRecord, Readings
from workups.chemistry.run import CANNOT, Run, continue_run
from workups.chemistry.yields import product_mass

from .orphans import without_orphans

# From this factor on between the mass weighed and what a flask would hold, one of the two is not
# what happened (common practice, no source).
REFUTED_BY = 4.0


def plan_as_done(plan: Plan, readings: Readings) -> Plan:
    """The plan with skipped steps left out, changed ones as changed, added ones put in.

    A recorded mass of drying agent replaces the planned endpoint. What only served a skipped step,
    such as pouring its washings away, falls out with it. With no marks at all the plan is taken
    as carried out.
    """
    steps = plan.steps
    for done in readings.steps:
        steps = _with(steps, done)
    records = {d.step: d for d in readings.drying}
    return _without_idle(Plan(tuple(_as_recorded(s, records.get(s.id)) for s in steps)))


def _without_idle(plan: Plan) -> Plan:
    """The plan without labels, tests and waste of flasks that are not made; combining what is."""
    possible = {step.id: step for step in without_orphans(plan).steps}
    return Plan(tuple(
        possible.get(step.id, step)
        for step in plan.steps
        if step.id in possible or step.takes_further
    ))


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


@dataclass(frozen=True)
class CarriedOut:
    """What was done: plan and run, and the steps marked as skipped that cannot have been."""

    plan: Plan
    run: Run
    not_skipped: tuple[Step, ...] = ()


def carried_out(start: Run, plan: Plan, readings: Readings) -> CarriedOut:
    """The workup as recorded, a skipped step put back where hands and eyes would have noticed.

    A mark ``skipped`` is not believed where without the step a later one has nothing to act on,
    or the flask would hold less than a quarter, or more than four times, of what was weighed,
    and with the step it would not. One step is put back if that is enough, else all of them.

    Raises what carrying out a plan raises, where the skipped steps are not the reason: marks that
    contradict each other are left out by whoever asked, and said to be.
    """
    skipped = [done.step for done in readings.steps if done.mark == "skipped"]
    believed = _tried(start, plan, readings, [])
    if believed is not None and not (skipped and is_refuted(believed.run, readings)):
        return believed
    for restored in (*([step] for step in skipped), skipped):
        tried = _tried(start, plan, readings, restored)
        if tried is not None and not is_refuted(tried.run, readings):
            return tried
    if believed is not None:
        return believed
    done = plan_as_done(plan, _restoring(readings, skipped))
    return CarriedOut(done, continue_run(start, done), tuple(skipped))


def _tried(
    start: Run, plan: Plan, readings: Readings, restored: list[Step]
) -> CarriedOut | None:
    done = plan_as_done(plan, _restoring(readings, restored))
    try:
        return CarriedOut(done, continue_run(start, done), tuple(restored))
    except CANNOT:
        return None


def _restoring(readings: Readings, restored: list[Step]) -> Readings:
    ids = {step.id for step in restored}
    steps = tuple(
        replace(d, mark="done") if d.mark == "skipped" and d.step.id in ids else d
        for d in readings.steps
    )
    return replace(readings, steps=steps)


def is_refuted(run: Run, readings: Readings) -> bool:
    """Whether a mass on record is far from what the flask would hold, on the nominal run."""
    for target in run.inventory.setup.targets:
        record = readings.targets.get(target.substance)
        found = product_mass(record, run.inventory.setup.glassware) if record else None
        if found is None or found.g <= found.u_g:
            continue
        held = float(measure(run, target.substance).mass_g[0])
        if not found.g / REFUTED_BY <= held <= found.g * REFUTED_BY:
            return True
    return False


def readings_asked(plan: Plan, run: Run, target: str) -> int:
    """How many full readings a plan asks for of the flask that a target ends in; 1 if it is silent.

    ``run`` is of what was done, which says the flask.
    """
    flask = measure(run, target).flask
    return next((s.readings for s in reversed(plan.of(Weigh)) if s.flask == flask), 1)
