"""Steps left without their flask when an earlier step is taken out of a plan."""

from __future__ import annotations

from dataclasses import replace

from workups.chemistry.plan import START_FLASK, Combine, FieldKind, Plan, Step, field_specs

from .rules.rewriting import without_wash


def without_orphans(plan: Plan) -> Plan:
    """The plan without steps that act on a flask which no earlier step has made."""
    made, kept = {START_FLASK}, []
    for step in plan.steps:
        if isinstance(step, Combine):
            present = tuple(f for f in step.flasks if f in made)
            if not present:
                continue
            step = replace(step, flasks=present)  # noqa: PLW2901 (the step as far as it can be)
        elif step.verb not in ("tare", "add") and getattr(step, "flask", START_FLASK) not in made:
            continue
        kept.append(step)
        made |= _made_by(step)
    return Plan(tuple(kept))


def _made_by(step: Step) -> set[str]:
    made = {
        getattr(step, name)
        for name, spec in field_specs(type(step)).items()
        if spec.kind is FieldKind.FLASK and spec.produces
    }
    return made | ({step.flask} if step.verb == "add" and hasattr(step, "flask") else set())


def without_washes(plan: Plan, *step_ids: str) -> Plan:
    """The plan without some washes, and without what only served their washings."""
    for step_id in step_ids:
        plan = without_wash(plan, plan.steps[plan.index(step_id)])  # type: ignore[arg-type]
    return without_orphans(plan)
