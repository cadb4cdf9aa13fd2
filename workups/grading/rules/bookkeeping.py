"""Rules about what must be on record for a number to mean something."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.measures import product_weighings
from workups.chemistry.plan import Label, Plan, Strip, Tare, Weigh

from ..assessment import Strength
from ..case import Case
from ..rule import Breach, Remark, Words, rule
from .contents import layers_mL, solvent_mL

say = Words("bookkeeping")
STANDING_ML, EMPTY_G, SMALL_CROP = 2.0, 0.1, 0.1


@rule("flask-not-tared", check="order", stage=3)
def flask_not_tared(case: Case) -> Iterator[Breach]:
    """Asks of the weighings a mass rests on, not of every one that a plan has."""
    counted = _counted(case)
    for i, step, _ in case.of(Weigh):
        if i not in counted:
            continue
        first = case.run.flow.first_filled(step.flask)
        filled = i if first is None else min(first, i)
        tares = [
            j for j, s, _ in case.of(Tare) if s.flask == step.flask and _is_empty(case, j, s.flask)]
        if not tares:
            yield Breach(
                step.id,
                Remark(Strength.PRODUCT_LOSS, *say("flask-not-tared"), score_loss=0.4),
                case.plan.inserting(
                    filled, Tare(id=case.plan.free_id(f"tare-{step.id}"), flask=step.flask)
                ),
            )
        elif min(tares) > filled:
            yield Breach(
                case.plan.steps[min(tares)].id,
                Remark(Strength.INFORMATION, *say("flask-not-tared", "after-use")),
            )


def _counted(case: Case) -> set[int]:
    """Positions of the weighings that a mass of product rests on; of several crops of one target,
    the first without a tare stands for all, and a small one asks for none."""
    found: set[int] = set()
    for target in case.targets:
        first, *more = product_weighings(case.run, target) or (None,)
        if first is None:
            continue
        held = {w: case.amount_in(case.after(w.at), w.vessel, target) for w in (first, *more)}
        crops = [first, *(w for w in more if held[w] > SMALL_CROP * sum(held.values()))]
        untared = [w for w in crops if w.vessel not in case.run.end.tared]
        found.update(w.at for w in (untared[:1] or crops))
    return found


def _is_empty(case: Case, index: int, flask: str) -> bool:
    """Whether a flask stands empty before a step; after its weighing it has been emptied."""
    there = case.before(index).flasks.get(flask)
    weighed = any(s.flask == flask for s in case.plan.of(Weigh, index))
    return there is None or weighed or float(
        case.inventory.mass_g(there.total())[0]) < EMPTY_G


@rule("weighed-before-stripping", check="order", stage=2)
def weighed_before_stripping(case: Case) -> Iterator[Breach]:
    """Only the last weighing of a flask counts, and only if the solvent comes off later."""
    strips = [(i, s.flask) for i, s, _ in case.of(Strip)]
    for i, step, _ in case.of(Weigh):
        later = any(k > i and s.flask == step.flask for k, s, _ in case.of(Weigh))
        after = [k for k, flask in strips if flask == step.flask and k > i]
        solvent = solvent_mL(case, case.before(i).flasks[step.flask].liquid())
        if later or not after or solvent < STANDING_ML:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.PRODUCT_LOSS,
                *say("weighed-before-stripping", solvent_mL=solvent),
                score_loss=0.5,
            ),
            case.plan.moving(step.id, after[-1]),
        )


@rule("not-labelled", check="layers_safety", stage=4)
def not_labelled(case: Case) -> Iterator[Breach]:
    """Says so once, at the first step after which two flasks stand side by side."""
    if case.plan.of(Label):
        return
    for i, step, _ in case.steps():
        state = case.after(i)
        standing = [n for n, f in state.flasks.items() if max(layers_mL(case, f)) > STANDING_ML]
        if len(standing) < 2 or not any(case.holds_product(state, n) for n in standing):
            continue
        required = case.exercise.choice("labels") == "required"
        names = " and ".join(f"'{n}'" for n in standing[:2])
        reason = f" {case.exercise.reason('labels')}".rstrip() if required else ""
        yield Breach(
            step.id,
            Remark(
                Strength.CHOICE if required else Strength.INFORMATION,
                *say("not-labelled", flasks=names, reason=reason),
                score_loss=0.1 if required else 0.0,
            ),
            _labelled(case.plan, i, standing),
        )
        return


def _labelled(plan: Plan, at: int, flasks: list[str]) -> Plan:
    """The plan with these flasks labelled after a step."""
    for name in flasks:
        stem = "label-" + "".join(c if c.isalnum() else "-" for c in name)
        plan = plan.inserting(at + 1, Label(id=plan.free_id(stem), flask=name))
    return plan
