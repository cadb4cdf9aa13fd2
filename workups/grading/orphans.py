"""Steps left without their flask when an earlier step is taken out of a plan."""

from __future__ import annotations

from workups.chemistry.plan import START_FLASK, Plan


def without_orphans(plan: Plan) -> Plan:
    """The plan without steps that act on a flask which no earlier step has made."""
    made, kept = {START_FLASK}, []
    for step in plan.steps:
        possible = step.with_only(made)
        if possible is not None:
            kept.append(possible)
            made.update(possible.brings())
    return Plan(tuple(kept))
