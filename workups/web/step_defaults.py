"""What most likely stands in a step just added: the trade's usual, and what the steps before say.

No material is chosen, and no layer before the first one was: these are what is to be thought about.
The layer last kept, the flask that holds the product, the portions and volumes of the last step of
the same kind, the flask that was tared: these are most likely the same again.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from workups.chemistry.plan import LAYERS, STEP_KINDS, FieldKind, Parting, Step, Tare, field_specs
from workups.selectors.plan_lines import PlanStepData, last_product_flask, produced_by

PRODUCT_FLASK = "round-bottom flask"
WASHINGS = "washings"
# What a step takes over from the last one of its kind.
_SAME_AGAIN = ("volume_mL", "portions", "rinse_mL", "rinses", "settle_min")


def usual(verb: str, before: Sequence[PlanStepData]) -> dict[str, Any]:
    """Values of a new step of this verb after those steps, by field."""
    kind = STEP_KINDS[verb]
    specs = field_specs(kind)
    values = _of_the_trade(kind)
    same = _last(before, lambda step: step["verb"] == verb)
    values |= {name: same[name] for name in _SAME_AGAIN if name in specs and same.get(name)}
    values |= _flasks(kind, before)
    if issubclass(kind, Parting):
        parted = _last(before, lambda step: issubclass(STEP_KINDS[step["verb"]], Parting))
        values |= {"keep": parted["keep"]} if parted.get("keep") in LAYERS else {}
    return values


def _of_the_trade(kind: type[Step]) -> dict[str, Any]:
    values = {}
    for name, spec in field_specs(kind).items():
        default = kind.__dataclass_fields__[name].default
        if spec.kind is not FieldKind.MATERIAL and name != "keep" and isinstance(
                default, str | int | float):
            values[name] = default
    return values


def _flasks(kind: type[Step], before: Sequence[PlanStepData]) -> dict[str, Any]:
    """Where it takes from and puts into."""
    specs = field_specs(kind)
    first, spec = next(iter(specs.items()))
    if issubclass(kind, Tare):
        return {first: PRODUCT_FLASK}
    if spec.kind is not FieldKind.FLASK or spec.produces:
        return {}
    flask = last_product_flask(before)
    if kind.verb == "discard":
        return {first: next(iter(_set_aside(before)), "")}
    if kind.verb == "wash":
        washed = _last(before, lambda step: step["verb"] == "wash")
        return {first: flask, "keep_in": flask, "other_in": washed.get("other_in") or WASHINGS}
    tared = _last(before, lambda step: step["verb"] == Tare.verb).get("flask")
    return {first: flask, **({"into": tared} if "into" in specs and tared else {})}


def _set_aside(before: Iterable[PlanStepData]) -> list[str]:
    """Flasks that got what the plan does not go on with and were not emptied since."""
    flasks: list[str] = []
    for step in before:
        values = _values(step)
        if STEP_KINDS[step["verb"]].empties:
            flasks = [name for name in flasks if name != values.get("flask")]
        kept = produced_by(step, aside=False)
        flasks += [name for name in produced_by(step) if name not in kept + flasks]
    return flasks


def _values(step: PlanStepData) -> Mapping[str, Any]:
    values: Mapping[str, Any] = step.get("typed", step)
    return values


def _last(before: Iterable[PlanStepData], fits: Any) -> Mapping[str, Any]:
    """Values of the last step that fits; empty where there is none."""
    return next((_values(step) for step in reversed(list(before)) if fits(step)), {})
