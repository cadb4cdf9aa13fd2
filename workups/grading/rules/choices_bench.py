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
from ..rule import Breach, rule
from .choices import SOURCE, chosen

OVERNIGHT_MIN = 8 * 60.0


@rule("drying-amount", check="drying", title="How much drying agent", source=SOURCE, stage=4)
def drying_amount(case: Case) -> Iterator[Breach]:
    """A weighed amount, or portions until the last one stays loose: both dry. Where the exercise
    asks for one of them, it says why.
    """
    wanted = case.exercise.choice("drying_amount")
    if wanted == "either":
        return
    for i, step, _ in case.steps():
        if isinstance(step, Dry) and case.dries_product(i, step) and step.endpoint != wanted:
            yield Breach(
                step.id,
                chosen(
                    case,
                    "drying_amount",
                    "The amount of drying agent is not found in the way that is asked for.",
                    "Add portions until the last one stays loose."
                    if wanted == "free-flowing"
                    else "Weigh the drying agent.",
                ),
                case.plan.replacing(replace(step, endpoint=wanted)),
            )
            return


@rule("decanted", check="drying", title="Decanted from the drying agent", source=SOURCE, stage=4)
def decanted(case: Case) -> Iterator[Breach]:
    """A granular agent can be decanted from as well as filtered off. Where the exercise asks for
    it, filter.
    """
    if case.exercise.choice("agent_removal") != "filter":
        return
    for step in case.plan.steps:
        if isinstance(step, Filter) and step.method == "decant":
            yield Breach(
                step.id,
                chosen(
                    case,
                    "agent_removal",
                    "The solution is decanted from the drying agent.",
                    "Filter it through fluted paper or a cotton plug.",
                ),
                case.plan.replacing(replace(step, method="gravity")),
            )
            return


@rule(
    "overnight-over-agent",
    check="drying",
    title="Left over the drying agent until the next day",
    source="your instructor's choice; University of York teaching labs, drying page: solvents take "
    "water up again",
    stage=4,
)
def overnight_over_agent(case: Case) -> Iterator[Breach]:
    """Over the drying agent, stoppered and labelled, is a common stopping point; some labs avoid
    it, because a solution that stands open takes water up again.
    """
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
                chosen(
                    case,
                    "overnight_over_agent",
                    "The solution stands over its drying agent until the next day.",
                    "Filter it off on the same day and stopper the filtrate.",
                ),
                case.plan.replacing(replace(step, minutes=30.0)),
            )
            return


@rule("tared-afterwards", check="order", title="Tared afterwards", source=SOURCE, stage=4)
def tared_afterwards(case: Case) -> Iterator[Breach]:
    """A flask that is cleaned, dried and tared after use gives the same mass. Where the exercise
    asks for it, tare before anything goes in.
    """
    if case.exercise.choice("tare") != "before":
        return
    for step in case.plan.steps:
        if not isinstance(step, Weigh):
            continue
        tares = [s for s in case.plan.steps if isinstance(s, Tare) and s.flask == step.flask]
        if tares and case.plan.index(tares[0].id) > case.plan.index(step.id):
            first = _first_use(case.plan, step.flask)
            yield Breach(
                tares[0].id,
                chosen(
                    case,
                    "tare",
                    "The flask is tared after the weighing.",
                    "Weigh the empty flask before anything goes in.",
                ),
                case.plan.moving(tares[0].id, first),
            )
            return


def _first_use(plan: Plan, flask: str) -> int:
    return next(i for i, s in enumerate(plan.steps) if flask in (*s.takes(), *s.brings()))


@rule(
    "not-cooled-before-weighing",
    check="order",
    title="Cooling is no step of the plan",
    source="your instructor's choice; a warm 50 mL beaker read 14 mg light three minutes after "
    "110 °C (wiredchemist.com, weighing techniques)",
    stage=4,
)
def not_cooled_before_weighing(case: Case) -> Iterator[Breach]:
    """A warm flask reads light, because warm air rises from it. To weigh means to weigh cool and
    dry outside; where the exercise asks for it, the plan says so in a step.
    """
    if case.exercise.choice("cooling") != "expected":
        return
    for i, step, _ in case.steps():
        if not isinstance(step, Weigh):
            continue
        last = [s for s in case.plan.steps[:i] if s.acts_on == step.flask]
        hot = [k for k, s in enumerate(last) if isinstance(s, Strip)]
        if not hot or any(isinstance(s, Cool | Stand) for s in last[hot[-1] :]):
            continue
        cool = Cool(id=case.plan.free_id(f"cool-before-{step.id}"), flask=step.flask)
        yield Breach(
            step.id,
            chosen(
                case,
                "cooling",
                "The flask goes from the bath to the balance.",
                "Let it cool to room temperature and dry it outside.",
            ),
            case.plan.inserting(i, cool),
        )


@rule("one-reading", check="order", title="One reading only", source=SOURCE, stage=4)
def one_reading(case: Case) -> Iterator[Breach]:
    """Constant mass means two readings that agree, with some more time under vacuum or in air
    between them: what still falls is solvent. Many courses take one reading.
    """
    if case.exercise.choice("constant_mass") != "required":
        return
    for step in case.plan.steps:
        if isinstance(step, Weigh) and step.readings < 2:
            yield Breach(
                step.id,
                chosen(
                    case,
                    "constant_mass",
                    "The product is weighed once.",
                    "Weigh again after a while, until two readings agree.",
                ),
                case.plan.replacing(replace(step, readings=2)),
            )


@rule(
    "dichloromethane-used",
    check="layers_safety",
    title="Dichloromethane",
    source="your instructor's choice; US EPA rule of 2024 on dichloromethane, university "
    "laboratories under conditions",
    stage=4,
)
def dichloromethane_used(case: Case) -> Iterator[Breach]:
    """Dichloromethane is volatile, harmful and tightly regulated; where the exercise rules it out,
    take another solvent, with more portions if it extracts less.
    """
    if case.exercise.choice("dichloromethane") != "not allowed":
        return
    for step in case.plan.steps:
        if "dichloromethane" in step.materials():
            yield Breach(
                step.id,
                chosen(
                    case,
                    "dichloromethane",
                    "The plan uses dichloromethane.",
                    "Take another extraction solvent.",
                ),
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
