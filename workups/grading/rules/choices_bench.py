"""Rules that an exercise turns on, continued: drying, weighing and the solvents allowed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from workups.chemistry.plan import (
    Cool,
    Dry,
    FieldKind,
    Filter,
    Parting,
    Plan,
    Stand,
    Strip,
    Tare,
    Weigh,
)

from ..case import Case
from ..rule import Breach, Words, rule
from .choices import chosen

say = Words("choices_bench")
OVERNIGHT_MIN = 8 * 60.0


@rule("drying-amount", check="drying", stage=4)
def drying_amount(case: Case) -> Iterator[Breach]:
    """Of the choices, ``drying_amount``: the step's endpoint has to be the one chosen."""
    wanted = case.exercise.choice("drying_amount")
    if wanted == "either":
        return
    for i, step, _ in case.of(Dry):
        if case.dries_product(i, step) and step.endpoint != wanted:
            yield Breach(
                step.id,
                chosen(case, "drying_amount", *say("drying-amount", wanted)),
                case.plan.replacing(replace(step, endpoint=wanted)),
            )
            return


@rule("decanted", check="drying", stage=4)
def decanted(case: Case) -> Iterator[Breach]:
    """Of the choices, ``agent_removal``; a powder that is decanted is ``powder-decanted``."""
    if case.exercise.choice("agent_removal") != "filter":
        return
    for step in case.plan.of(Filter):
        if step.method == "decant":
            yield Breach(
                step.id,
                chosen(case, "agent_removal", *say("decanted")),
                case.plan.replacing(replace(step, method="gravity")),
            )
            return


@rule("overnight-over-agent", check="drying", stage=4)
def overnight_over_agent(case: Case) -> Iterator[Breach]:
    """Of the choices, ``overnight_over_agent``: a Dry or a Stand over agent of eight hours."""
    if case.exercise.choice("overnight_over_agent") != "avoid":
        return
    agents = case.inventory.agent_rows.values()
    for i, step, _ in case.steps():
        over = isinstance(step, Stand) and any(
            float(case.before(i).flasks[step.flask].solid[r, 0]) > 0 for r in agents
        )
        if (
            isinstance(step, Dry | Stand)
            and (isinstance(step, Dry) or over)
            and (step.minutes > OVERNIGHT_MIN)
        ):
            yield Breach(
                step.id,
                chosen(case, "overnight_over_agent", *say("overnight-over-agent")),
                case.plan.replacing(replace(step, minutes=30.0)),
            )
            return


@rule("tared-afterwards", check="order", stage=4)
def tared_afterwards(case: Case) -> Iterator[Breach]:
    """Of the choices, ``tare``: a tare after the weighing; none at all is ``flask-not-tared``."""
    if case.exercise.choice("tare") != "before":
        return
    for step in case.plan.of(Weigh):
        tares = [s for s in case.plan.of(Tare) if s.flask == step.flask]
        if tares and case.plan.index(tares[0].id) > case.plan.index(step.id):
            first = _first_use(case.plan, step.flask)
            yield Breach(
                tares[0].id,
                chosen(case, "tare", *say("tared-afterwards")),
                case.plan.moving(tares[0].id, first),
            )
            return


def _first_use(plan: Plan, flask: str) -> int:
    return next(i for i, s in enumerate(plan.steps) if flask in (*s.takes(), *s.brings()))


@rule("not-cooled-before-weighing", check="order", stage=4)
def not_cooled_before_weighing(case: Case) -> Iterator[Breach]:
    """Of the choices, ``cooling``: nothing between the strip of a flask and its weighing."""
    if case.exercise.choice("cooling") != "expected":
        return
    for i, step, _ in case.of(Weigh):
        last = [s for s in case.plan.steps[:i] if s.acts_on == step.flask]
        hot = [k for k, s in enumerate(last) if isinstance(s, Strip)]
        if not hot or any(isinstance(s, Cool | Stand) for s in last[hot[-1] :]):
            continue
        cool = Cool(id=case.plan.free_id(f"cool-before-{step.id}"), flask=step.flask)
        yield Breach(
            step.id,
            chosen(case, "cooling", *say("not-cooled-before-weighing")),
            case.plan.inserting(i, cool),
        )


@rule("one-reading", check="order", stage=4)
def one_reading(case: Case) -> Iterator[Breach]:
    """Of the choices, ``constant_mass``: every weighing with one reading, each for itself."""
    if case.exercise.choice("constant_mass") != "required":
        return
    for step in case.plan.of(Weigh):
        if step.readings < 2:
            yield Breach(
                step.id,
                chosen(case, "constant_mass", *say("one-reading")),
                case.plan.replacing(replace(step, readings=2)),
            )


@rule("dichloromethane-used", check="layers_safety", stage=4)
def dichloromethane_used(case: Case) -> Iterator[Breach]:
    """Of the choices, ``dichloromethane``: wherever it is used; the first step stands for all."""
    if case.exercise.choice("dichloromethane") != "not allowed":
        return
    for step in case.plan.steps:
        if "dichloromethane" in step.materials():
            yield Breach(
                step.id,
                chosen(case, "dichloromethane", *say("dichloromethane-used")),
                _with_other_solvent(case),
            )
            return


def _with_other_solvent(case: Case) -> Plan | None:
    inv = case.inventory
    other = next((s for s in inv.solvents if not inv.tables.solvents[s].halogenated), None)
    if other is None:
        return None
    steps = []
    for step in case.plan.steps:
        changes: dict[str, str] = {
            name: other
            for name, spec, value in step.fields()
            if spec.kind is FieldKind.MATERIAL and value == "dichloromethane"
        }
        if isinstance(step, Parting):
            changes["keep"] = "upper" if step.keep == "lower" else "lower"
        steps.append(replace(step, **changes) if changes else step)
    return Plan(tuple(steps))
