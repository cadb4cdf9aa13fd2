"""Rules about targets that should end in flasks of their own, and parts of one that stay behind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.kinds import is_acid_substance, is_phenol
from workups.chemistry.measures import contents_weighed
from workups.chemistry.plan import WASTE, Combine, Discard, Plan, Step, Wash, Weigh
from workups.chemistry.state import Flask
from workups.words.numbers import percent

from ..assessment import Band, Number, Strength
from ..case import Case
from ..rule import LOSS, Breach, Cost, Remark, Words, band, rule

say = Words("parting_ways")
LEAST_MIXED, SURELY_MIXED, NOT_SEPARATED = 0.03, 0.02, 0.10
NOT_PARTED = 0.1
LEFT_BEHIND, LEAST_THERE = 0.03, 0.05


def mixed_in(case: Case, target: str, other: str) -> Band:
    """Another target in a target's flask, as share of the mass of target that there can be."""
    inv = case.inventory
    found = next(m for m in case.measures() if m.target == target)
    row = inv.index[other]
    grams = contents_weighed(case.run, target)[row] * inv.molar_mass[row] * 1e-3
    return band(grams / np.maximum(found.available_g, 1e-9))


@rule("targets-not-separated", check="order", stage=2)
def targets_not_separated(case: Case) -> Iterator[Breach]:
    """One product in another's flask, where the draws agree; the first pair stands for all."""
    for target in case.targets:
        if not _is_there(case, target):
            continue
        for other in case.targets:
            if other == target:
                continue
            share = mixed_in(case, target, other)
            if share.nominal < LEAST_MIXED or share.low < SURELY_MIXED:
                continue
            step, mended, change = _parted_better(case, target, other, share.nominal)
            names = case.inventory.names
            yield Breach(step, _mixed(names[other], names[target], share, change), mended)
            return


def _is_there(case: Case, target: str) -> bool:
    """Whether a flask is this target's at all: where it was lost, nothing is mixed with it."""
    found = next(m for m in case.measures() if m.target == target)
    return float(found.share[0]) >= LEAST_THERE


def _mixed(other: str, target: str, share: Band, change: str) -> Remark:
    return Remark(
        Strength.PRODUCT_LOSS if share.low >= NOT_SEPARATED else Strength.ADVICE,
        *say("targets-not-separated", change, other=other[0].upper() + other[1:], target=target,
             share=percent(min(share.nominal, 1.0))),
        (Number("other component", share.nominal * 100, "%", share.low * 100, share.high * 100),),
        score_loss=NOT_PARTED,
    )


def _parted_better(case: Case, target: str, other: str, now: float) -> tuple[str, Plan | None, str]:
    """The step where two components went together, a plan that parts them, and its wording."""
    swapped = _weak_base_first(case)
    if swapped is not None and _better(case, swapped[1], target, other, now):
        return (*swapped, "weak-base-first")
    for i, step, _ in case.of(Wash):
        if not case.is_aqueous(step.material):
            continue
        if not case.bottle(step.material).components or case.is_brine(step.material):
            continue
        before = case.before(i)
        if min(case.share_in(before, step.flask, t) for t in (target, other)) < 0.01:
            continue
        more = case.plan.replacing(replace(step, portions=min(step.portions + 2, 12)))
        if _better(case, more, target, other, now):
            return step.id, more, "more-portions"
    return case.ends_with(target), None, "other-washes"


def _better(case: Case, plan: Plan, target: str, other: str, now: float) -> bool:
    better = case.tried(plan)
    return better is not None and mixed_in(better, target, other).nominal < 0.5 * now


def _weak_base_first(case: Case) -> tuple[str, Plan] | None:
    """Hydroxide before bicarbonate with an acid and a phenol to be parted: the other way."""
    substances = [case.inventory.tables.substances[t] for t in case.targets]
    if not any(map(is_acid_substance, substances)) or not any(map(is_phenol, substances)):
        return None
    washes = case.plan.of(Wash)
    strong = next((s for s in washes if case.is_strong_base(s.material)), None)
    weak = next((s for s in washes if case.is_carbonate(s.material)), None)
    if strong is None or weak is None or washes.index(strong) > washes.index(weak):
        return None
    first = replace(strong, material=weak.material, swirl_open=True, other_in=weak.other_in)
    second = replace(weak, material=strong.material, other_in=strong.other_in)
    return strong.id, case.plan.replacing(first).replacing(second)


@rule("extract-left-behind", check="order", stage=2)
def extract_left_behind(case: Case) -> Iterator[Breach]:
    """What stands in a flask at the end that is not weighed, waste and wet solids aside; or stood
    there until it was poured away with nothing done to it."""
    weighed = {m.flask for m in case.measures()}
    last = max(
        (i for i, s, _ in case.of(Weigh)), default=len(case.plan.steps)
    )
    for name, flask in _left_standing(case):
        wet_solid = any(float(flask.solid[r, 0]) > 0 for r in case.inventory.agent_rows.values())
        if name in weighed or name == WASTE or wet_solid:
            continue
        for target in case.targets:
            row = case.inventory.index[target]
            share = float(flask.organic[row, 0]) / max(case.available(target), 1e-12)
            made = _made_by(case, name)
            if share < LEFT_BEHIND or made is None or made > last or case.used_later(made, name):
                continue
            yield Breach(
                case.plan.steps[made].id,
                partial(_forgotten, name, share),
                _combined(case, name, made, target),
            )
            return


def _left_standing(case: Case) -> Iterator[tuple[str, Flask]]:
    """Every flask with what is in it when the plan is done with it: at the end, or before it is
    poured away for good."""
    poured = {s.flask: i for i, s, _ in case.of(Discard)}
    for name, at_the_end in case.run.end.flasks.items():
        at = poured.get(name)
        if at is None or case.used_later(at, name):
            yield name, at_the_end
        else:
            yield name, case.before(at).flasks.get(name, at_the_end)


def _made_by(case: Case, name: str) -> int | None:
    """The last step that kept a layer in a flask, or collected extracts in it."""
    kept = (i for i, step, _ in case.steps() if name in step.carries_on_in())
    return max(kept, default=None)


def _combined(case: Case, name: str, made: int, target: str) -> Plan | None:
    """The plan with the forgotten flask poured to the rest of the product."""
    for i, step, _ in case.steps():
        if i <= made or (
            not isinstance(step, Wash | Combine) and step.verb not in ("dry", "filter")
        ):
            continue
        flask = step.into if isinstance(step, Combine) else step.acts_on
        sources: tuple[Step, ...] = (
            Combine(id=case.plan.free_id("combine-added"), flasks=(name,), into=flask),
        )
        held = case.share_in(case.before(i), flask, target)
        if flask != name and (held > 0.1 or isinstance(step, Combine)):
            return case.plan.inserting(i, *sources)
    return None


def _forgotten(name: str, share: float, cost: Cost | None) -> Remark:
    loses = share >= LOSS or cost is None or cost.is_loss
    return Remark(
        Strength.PRODUCT_LOSS if loses else Strength.ADVICE,
        *say("extract-left-behind", name=name, share=percent(share)),
        (Number("product left in that flask", share * 100, "%"),),
    )
