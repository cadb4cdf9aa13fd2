"""Small changes to a plan that rules use as mends: flasks renamed, steps moved."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import replace

from workups.chemistry.plan import Dry, Filter, Plan, Step, Strip, Transfer, Wash

from ..case import Case
from ..orphans import without_orphans

SHAKING = frozenset({"wash", "separate", "extract"})


def acting_on(step: Step, flask: str) -> Step:
    """The same step on another flask."""
    return dataclasses.replace(step, **{"flask": flask})


def renamed_where(plan: Plan, which: Callable[[Step], bool], flask: str) -> Plan:
    """The plan with some steps acting on another flask."""
    return Plan(tuple(acting_on(s, flask) if which(s) else s for s in plan.steps))


def strip_elsewhere(plan: Plan, strip: Strip, name: str) -> Plan:
    """The plan with stripping and weighing done in another flask."""
    return renamed_where(
        plan,
        lambda s: s.verb in ("strip", "weigh") and s.acts_on == strip.flask,
        name,
    )


def without_wash(plan: Plan, step: Wash) -> Plan:
    """The plan without a wash; what acted on its kept layer starts from where the layer stood."""
    at, rest = plan.index(step.id), plan.without(step.id)
    if step.keep_in == step.flask:
        return rest
    steps, there = list(rest.steps[:at]), step.flask
    for later in rest.steps[at:]:
        acts = bool(later.takes()) and later.acts_on == step.keep_in
        steps.append(acting_on(later, there) if acts else later)
        if acts and step.keep_in in later.carries_on_in():
            there = step.keep_in
    return Plan(tuple(steps))


def without_washes(plan: Plan, *step_ids: str) -> Plan:
    """The plan without some washes, and without what only served their washings."""
    for step_id in step_ids:
        plan = without_wash(plan, plan.steps[plan.index(step_id)])  # type: ignore[arg-type]
    return without_orphans(plan)


def wash_moved_after(plan: Plan, step: Wash, last: Wash) -> Plan:
    """A wash moved behind another, with flask names passed along."""
    rest = plan.without(step.id)
    if step.keep_in != step.flask:
        rest = renamed_where(
            rest,
            lambda s: s.verb in SHAKING and s.acts_on == step.keep_in,
            step.flask,
        )
    moved = replace(step, flask=last.keep_in, keep_in=last.keep_in)
    return rest.inserting(rest.index(last.id) + 1, moved)


def filtered_after(plan: Plan, dry: Dry, case: Case) -> Plan:
    """A mended plan whose drying step moved: the agent is filtered off before it goes further.

    A later transfer of that flask becomes the filtration; if it is stripped where it stands, a
    filtration into a new flask comes first.
    """
    at = plan.index(dry.id)
    onward = next(
        (
            s
            for s in plan.steps[at + 1 :]
            if s.acts_on == dry.flask and s.verb in ("filter", "transfer", "strip")
        ),
        None,
    )
    solvent = next(iter(case.inventory.solvents), "")
    if isinstance(onward, Transfer):
        over = Filter(
            id=onward.id,
            flask=onward.flask,
            into=onward.into,
            rinse_with=onward.rinse_with or solvent,
            rinse_mL=onward.rinse_mL or (5.0 if solvent else 0.0),
            rinses=onward.rinses or (2 if solvent else 0),
        )
        return plan.replacing(over)
    if isinstance(onward, Strip):
        over = Filter(
            id=plan.free_id(f"filter-after-{dry.id}"),
            flask=dry.flask,
            into="filtered",
            rinse_with=solvent,
            rinse_mL=5.0,
            rinses=2,
        )
        return strip_elsewhere(plan, onward, "filtered").inserting(at + 1, over)
    return plan
