"""Rules about bringing a salt back: the pH that sets the product free, and what goes with it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.plan import Adjust, Collect, Extract, Parting, Plan, Wash
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, Words, ramp, rule
from .contents import strongest_acid, strongest_base

say = Words("setting_free")
LEAST_LEFT, MOST_NEUTRAL = 0.05, 0.9
PH_BEYOND = 3.0
LEAST_CARRIED, MUCH_CARRIED, FAR_TOO_MUCH_CARRIED, CARRIED_COSTS = 0.02, 0.05, 0.06, 0.1


@rule("not-set-free", check="order", stage=2)
def not_set_free(case: Case) -> Iterator[Breach]:
    """By the ionised share in the water put aside, where no later step uses that water."""
    for i, step, facts in case.steps():
        if not isinstance(step, Extract | Collect):
            continue
        (aside,) = step.sets_aside()
        if case.used_later(i, aside) or (
            isinstance(step, Extract) and case.is_aqueous(step.material)
        ):
            continue
        for target in case.targets:
            left = ionised_left(case, i, step, target, aside)
            if left < LEAST_LEFT:
                continue
            pH = float(facts.shakes[-1].pH[0]) if facts.shakes else _pH(case, i, step)
            yield Breach(step.id, partial(_salt_remark, left, pH), _set_free(case, i, step, target))
            break


def _pH(case: Case, index: int, step: Parting | Collect) -> float:
    there = case.before(index).flasks[step.flask]
    return 7.0 if there.pH is None else float(there.pH[0])


def ionised_left(
    case: Case, index: int, step: Parting | Collect, target: str, aside: str
) -> float:
    """Share of a target (0..1) that goes with the water layer put aside because it is a salt."""
    inv = case.inventory
    row = inv.index[target]
    acid = next((a for a in inv.acids if a.row == row), None)
    held = case.share_in(case.before(index), step.flask, target)
    if acid is None or held < LEAST_LEFT:
        return 0.0
    facts = case.run.outcomes[index].facts
    pH = facts.shakes[-1].pH if facts.shakes else np.full(inv.count, _pH(case, index, step))
    neutral = float(acid.neutral_share(10.0**-pH)[0])
    if neutral > MOST_NEUTRAL:
        return 0.0
    before = 0.0 if aside == step.flask else case.share_in(case.before(index), aside, target)
    return max(0.0, case.share_in(case.after(index), aside, target) - before)


def _set_free(case: Case, index: int, step: Extract | Collect, target: str) -> Plan | None:
    """The plan with the flask brought well past the pKa before the product is isolated."""
    substance = case.inventory.tables.substances[target]
    basic = substance.charge_top > 0
    pKa = substance.pKa[-1 if basic else 0].value
    goal = min(13.0, pKa + PH_BEYOND) if basic else max(1.0, pKa - PH_BEYOND)
    bottle = strongest_base(case) if basic else strongest_acid(case)
    if bottle is None:
        return None
    for earlier in reversed(case.plan.steps[:index]):
        if isinstance(earlier, Adjust) and earlier.flask == step.flask:
            return case.plan.replacing(replace(earlier, until_pH=goal, material=bottle))
        if earlier.layers() and step.flask in earlier.fills():
            break
    adjust = Adjust(
        id=case.plan.free_id(f"adjust-before-{step.id}"),
        flask=step.flask,
        material=bottle,
        until_pH=goal,
    )
    return case.plan.inserting(index, adjust)


def _salt_remark(left: float, pH: float, cost: Cost | None) -> Remark:
    loses = cost is not None and cost.is_loss
    return Remark(
        Strength.PRODUCT_LOSS if loses else Strength.INFORMATION,
        *say("not-set-free", pH=pH, share=percent(left)),
        (Number("product left as its salt", left * 100, "%"), Number("pH", pH, "")),
    )


@rule("ph-not-reached", check="order", stage=1)
def ph_not_reached(case: Case) -> Iterator[Breach]:
    """After as much of the solution as still does something; the strongest bottle is the mend."""
    for i, step, facts in case.of(Adjust):
        if "pH not reached" not in facts.problems:
            continue
        before = case.before(i).flasks[step.flask].pH
        down = before is not None and float(before[0]) > step.until_pH
        if before is not None and abs(float(before[0]) - step.until_pH) < 0.5:
            continue
        bottle = strongest_acid(case) if down else strongest_base(case)
        swapped = bottle != step.material
        mended = case.plan.replacing(replace(step, material=bottle)) if bottle and swapped else None
        stops = _pH_after(case, i)
        gas_holds = case.is_carbonate(step.material) and not down
        remark = _gas_holds_it if gas_holds else _not_reached
        yield Breach(step.id, partial(remark, step.until_pH, stops), mended)


def _pH_after(case: Case, index: int) -> float | None:
    flask = case.after(index).flasks[case.plan.steps[index].acts_on]
    return None if flask.pH is None else float(flask.pH[0])


def _not_reached(pH: float, stops: float | None, cost: Cost | None) -> Remark:
    loses = cost is not None and cost.is_loss
    wording = "" if stops is None else "stops"
    said = say("ph-not-reached", wording, pH=pH, stops=stops)
    return Remark(Strength.PRODUCT_LOSS if loses else Strength.ADVICE, *said)


def _gas_holds_it(pH: float, stops: float | None, cost: Cost | None) -> Remark:
    """A carbonate that stops where its carbon dioxide keeps it."""
    loses = cost is not None and cost.is_loss
    wording = "held-by-gas" if stops is None else "held-by-gas-and-stops"
    said = say("ph-not-reached", wording, pH=pH, stops=stops)
    return Remark(Strength.PRODUCT_LOSS if loses else Strength.INFORMATION, *said)


@rule("neutrals-carried-along", check="order", stage=3)
def neutrals_carried_along(case: Case) -> Iterator[Breach]:
    """By what a wash of the water layer would take: silent where it takes little."""
    solvent = next(iter(case.inventory.solvents), None)
    dirty = {
        m.target
        for m in case.measures()
        if m.product_g[0] > 0 and m.other_g[0] / m.available_g[0] > LEAST_CARRIED
    }
    if solvent is None or not dirty:
        return
    for i, step, _ in case.of(Adjust):
        target = case.main_target(case.before(i), step.flask)
        if not case.inventory.tables.substances[target].pKa:
            continue
        if target not in dirty or case.share_in(case.before(i), step.flask, target) < 0.5:
            continue
        mended = case.plan.inserting(i, _clean(case, step, solvent))
        better = case.tried(mended)
        less = 0.0 if better is None else _carried(case, target) - _carried(better, target)
        if less < LEAST_CARRIED:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                *say("neutrals-carried-along", share=percent(less)),
                (Number("neutral compounds in the product", less * 100, "%"),),
                score_loss=CARRIED_COSTS * ramp(less, MUCH_CARRIED, FAR_TOO_MUCH_CARRIED),
            ),
            mended,
        )


def _carried(case: Case, target: str) -> float:
    found = next(m for m in case.measures() if m.target == target)
    return float(found.other_g[0] / found.available_g[0]) if found.product_g[0] > 0 else 0.0


def _clean(case: Case, step: Adjust, solvent: str) -> Wash:
    """A wash of a water layer with fresh solvent, the water layer kept."""
    heavy = case.inventory.tables.substances[solvent].values["density"].value > 1.0
    return Wash(
        id=case.plan.free_id(f"clean-before-{step.id}"),
        flask=step.flask,
        material=solvent,
        volume_mL=10.0,
        keep="upper" if heavy else "lower",
        keep_in=step.flask,
        other_in="neutral washings",
    )
