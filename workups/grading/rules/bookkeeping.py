"""Rules about what must be on record for a number to mean something."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.measures import product_weighings
from workups.chemistry.plan import Label, Plan, Strip, Tare, Weigh

from ..assessment import Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, rule
from .contents import layers_mL, solvent_mL

STANDING_ML, EMPTY_G, SMALL_CROP = 2.0, 0.1, 0.1


@rule(
    "flask-not-tared",
    check="order",
    title="The flask is not tared",
    source="mass of product = gross - tare",
    stage=3,
)
def flask_not_tared(case: Case) -> Iterator[Breach]:
    """The mass of the product is the difference of two weighings, of the same flask with the
    same things on it. Weigh the flask empty, clean and dry before the product goes in. Equally
    good: strip in any flask and rinse the product into a tared vial; or clean, dry and weigh the
    flask afterwards (that is a rescue, and is noted). A flask that already holds the solution
    cannot be tared.
    """
    for i in _counted(case):
        step = case.plan.steps[i]
        assert isinstance(step, Weigh)
        first = case.run.flow.first_filled(step.flask)
        filled = i if first is None else min(first, i)
        tares = [
            j
            for j, s, _ in case.steps()
            if isinstance(s, Tare) and s.flask == step.flask and _is_empty(case, j, s.flask)
        ]
        if not tares:
            yield Breach(
                step.id,
                _not_tared,
                case.plan.inserting(
                    filled, Tare(id=case.plan.free_id(f"tare-{step.id}"), flask=step.flask)
                ),
            )
        elif min(tares) > filled:
            yield Breach(
                case.plan.steps[min(tares)].id,
                Remark(
                    Strength.INFORMATION,
                    "The flask is tared after use. That works if it is empty, clean and dry "
                    "then; note it in the report.",
                    "Next time weigh the empty flask before the product goes in.",
                ),
            )


def _counted(case: Case) -> list[int]:
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
    return sorted(found)


def _is_empty(case: Case, index: int, flask: str) -> bool:
    """Whether a flask stands empty before a step; after its weighing it has been emptied."""
    there = case.before(index).flasks.get(flask)
    weighed = any(isinstance(s, Weigh) and s.flask == flask for s in case.plan.steps[:index])
    return there is None or weighed or float(
        case.inventory.mass_g(there.total())[0]) < EMPTY_G


def _not_tared(_cost: Cost | None) -> Remark:
    return Remark(
        Strength.PRODUCT_LOSS,
        "The flask that is weighed has no tare of the empty flask on record, so its mass says "
        "nothing about the product.",
        "Weigh the empty, dry flask first, or transfer the product to a tared vial.",
        score_loss=0.4,
    )


@rule(
    "weighed-before-stripping",
    check="order",
    title="Weighed before the solvent is off",
    source="mass of solvent in the flask at that moment, as computed",
    stage=2,
)
def weighed_before_stripping(case: Case) -> Iterator[Breach]:
    """The gross mass counts when the solvent is gone. A reading taken before that is the mass of a
    solution.
    """
    strips = [(i, s.flask) for i, s, _ in case.steps() if isinstance(s, Strip)]
    for i, step, _ in case.steps():
        if not isinstance(step, Weigh):
            continue
        later = any(
            isinstance(s, Weigh) and s.flask == step.flask for s in case.plan.steps[i + 1 :]
        )
        after = [k for k, flask in strips if flask == step.flask and k > i]
        solvent = solvent_mL(case, case.before(i).flasks[step.flask].liquid())
        if later or not after or solvent < STANDING_ML:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.PRODUCT_LOSS,
                f"The flask is weighed with about {solvent:.0f} mL of solvent in it, and never "
                "after that.",
                "Weigh it when the solvent is off, cool and dry outside.",
                score_loss=0.5,
            ),
            case.plan.moving(step.id, after[-1]),
        )


@rule(
    "not-labelled",
    check="layers_safety",
    title="Nothing is labelled",
    source="trade practice: label each layer as it is poured; Nichols 7.15",
    stage=4,
)
def not_labelled(case: Case) -> Iterator[Breach]:
    """Two flasks of clear liquid look alike. Which is which is known on the day and forgotten after
    lunch; the wrong one acidified or stripped is the end of the product. Write on each flask what
    is in it before you pour.
    """
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
                f"{names} stand side by side and no flask is labelled in this plan.{reason}",
                "Label each layer as it is poured.",
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
