"""Rules about what must be on record for a number to mean something."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.plan import Collect, Filter, Strip, Tare, Transfer, Weigh

from ..assessment import Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, rule


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
    flask afterwards (that is a rescue, and is noted).
    """
    for i, step, _ in case.steps():
        if not isinstance(step, Weigh):
            continue
        tares = [j for j, s, _ in case.steps() if isinstance(s, Tare) and s.flask == step.flask]
        if not tares:
            at = _first_filled(case, step.flask, i)
            yield Breach(
                step.id,
                _not_tared,
                case.plan.inserting(
                    at, Tare(id=case.plan.free_id(f"tare-{step.id}"), flask=step.flask)
                ),
            )
        elif min(tares) > _first_filled(case, step.flask, i):
            yield Breach(
                case.plan.steps[min(tares)].id,
                Remark(
                    Strength.INFORMATION,
                    "The flask is tared after use. That works if it is empty, clean and dry "
                    "then; note it in the report.",
                    "Next time weigh the empty flask before the product goes in.",
                ),
            )


def _first_filled(case: Case, flask: str, before: int) -> int:
    for i, step, _ in case.steps():
        if i >= before:
            break
        into = (
            getattr(step, "into", "")
            if isinstance(step, Filter | Transfer | Collect)
            else (step.flask if isinstance(step, Strip) else "")
        )
        if into == flask or getattr(step, "keep_in", "") == flask:
            return i
    return before


def _not_tared(_cost: Cost | None) -> Remark:
    return Remark(
        Strength.PRODUCT_LOSS,
        "The flask that is weighed has no tare on record, so its mass says nothing about the "
        "product.",
        "Weigh the empty, dry flask first, or transfer the product to a tared vial.",
        score_loss=0.4,
    )
