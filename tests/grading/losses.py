"""More planted mistakes: ways to lose the product that need no rule of their own to be noticed.

Whatever the rules say of them, the product is not in the weighed flask, or not alone in it, and
the points have to follow. ``catalogue.py`` has the mistakes that a rule is meant to name.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Add,
    Collect,
    Discard,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Step,
    Strip,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.grading.case import Case

from .catalogue import Change, Mistake, always

T = TypeVar("T", bound=Step)
HARM = "unplanned washings"
ACIDS, ALKALIS = ("hcl_3m", "hcl_1m", "h2so4_1m"), ("naoh_3m", "naoh_1m", "naoh_6m", "koh_1m")


def _of(plan: Plan, kind: type[T]) -> list[T]:
    return [s for s in plan.steps if isinstance(s, kind)]


def _only_a_vial(_case: Case) -> Plan:
    return Plan((Tare(id="tare-vial", flask="vial"), Weigh(id="weigh-vial", flask="vial")))


def _until(kind: type[Step]) -> Change:
    """The plan stops before its first step of a kind."""
    def change(case: Case) -> Plan | None:
        at = next((i for i, s in enumerate(case.plan.steps) if isinstance(s, kind)), 0)
        return Plan(case.plan.steps[:at]) if at > 0 else None
    return change


def _filter_forgotten(case: Case) -> Plan | None:
    steps = [s for s in _of(case.plan, Filter) if any(
        t.flask == s.into and case.plan.index(t.id) < case.plan.index(s.id)
        for t in _of(case.plan, Tare))]
    return case.plan.without(steps[0].id) if steps else None


def _filtered_elsewhere(case: Case) -> Plan | None:
    """The dried layer is filtered into a flask that is never looked at again."""
    steps = [s for s in _of(case.plan, Filter) if any(
        t.flask == s.into and case.plan.index(t.id) < case.plan.index(s.id)
        for t in _of(case.plan, Tare))]
    return case.plan.replacing(replace(steps[0], into="other flask")) if steps else None


def _another_weighed(case: Case) -> Plan | None:
    """A tared vial is weighed instead of the flask with the product."""
    weigh = next(iter(_of(case.plan, Weigh)), None)
    if weigh is None or len(_of(case.plan, Weigh)) > 1:
        return None
    plan = case.plan.replacing(replace(weigh, flask="vial"))
    return plan.inserting(plan.index(weigh.id), Tare(id=plan.free_id("tare-vial"), flask="vial"))


def _last_shake(case: Case) -> tuple[Parting, Dry] | None:
    """The shake whose kept layer is dried first, and that drying."""
    dry = next(iter(_of(case.plan, Dry)), None)
    if dry is None:
        return None
    before = [s for s in _of(case.plan, Parting) if s.keep_in == dry.flask
              and case.plan.index(s.id) < case.plan.index(dry.id)]
    return (before[-1], dry) if before else None


def _washed_with(materials: tuple[str, ...], volume_mL: float, portions: int, then: str) -> Change:
    """The layer is washed before drying; the washings are left, labelled or discarded."""
    def change(case: Case) -> Plan | None:
        found = _last_shake(case)
        offered = [m for m in materials if m in case.exercise.setup.materials]
        if found is None or not offered:
            return None
        shake, dry = found
        steps: list[Step] = [Wash(
            id=case.plan.free_id("harm"), flask=dry.flask, material=offered[0],
            volume_mL=volume_mL, portions=portions, keep=shake.keep, keep_in=dry.flask,
            other_in=WASTE if then == "waste" else HARM)]
        if then == "labelled":
            steps.append(Label(id=case.plan.free_id("note"), flask=HARM, text="washings"))
        plan = case.plan.inserting(case.plan.index(dry.id), *steps)
        if then == "discarded":
            tip = Discard(id=plan.free_id("tip"), flask=HARM, stream="aqueous")
            plan = plan.inserting(len(plan.steps), tip)
        return plan
    return change


def _last_wash_wrong(case: Case) -> Plan | None:
    """The other layer is kept at the last shake before the drying agent."""
    found = _last_shake(case)
    if found is None:
        return None
    shake, _ = found
    return case.plan.replacing(replace(
        shake, keep="lower" if shake.keep == "upper" else "upper"))


def _dried_layer_tipped(case: Case) -> Plan | None:
    dry = next(iter(_of(case.plan, Dry)), None)
    return None if dry is None else case.plan.inserting(
        case.plan.index(dry.id) + 1,
        Discard(id=case.plan.free_id("tip"), flask=dry.flask, stream="non_halogenated"))


def _tenth_of_the_solvent(case: Case) -> Plan | None:
    steps = _of(case.plan, Extract)
    if not steps:
        return None
    return case.plan.replacing(replace(
        steps[0], portions=1, volume_mL=round(max(0.5, steps[0].volume_mL / 10), 1)))


def _water_layer_into_product(case: Case) -> Plan | None:
    filtered = next(iter(_of(case.plan, Filter)), None)
    if filtered is None:
        return None
    aside = [s.other_in for s in _of(case.plan, Parting) if s.other_in != WASTE
             and case.plan.index(s.id) < case.plan.index(filtered.id)]
    if not aside:
        return None
    plan = case.plan.inserting(case.plan.index(filtered.id) + 1, Transfer(
        id=case.plan.free_id("mix"), flask=aside[0], into=filtered.into))
    return plan.without(*(s.id for s in _of(plan, Discard) if s.flask == aside[0]))


def _nothing_boils(case: Case) -> Plan | None:
    steps = _of(case.plan, Strip)
    return None if not steps else case.plan.replacing(replace(
        steps[-1], bath_C=15.0, pressure_mbar=1000.0, hold_min=0.0))


def _filtrate_kept(case: Case) -> Plan | None:
    """The filtrate is weighed, the solid is put aside."""
    steps = [s for s in _of(case.plan, Collect) if s.filtrate_in != WASTE]
    return None if not steps else case.plan.replacing(replace(
        steps[0], into=steps[0].filtrate_in, filtrate_in=steps[0].into))


def _stripped_without_parting(case: Case) -> Plan | None:
    """Solvent and water go in, nothing is parted, all of it is stripped and weighed."""
    strips, extracts = _of(case.plan, Strip), _of(case.plan, Extract)
    if not strips or not extracts or len(case.targets) > 1:
        return None
    first = extracts[0]
    poured: list[Step] = [Add(id="solvent", flask=START_FLASK, material=first.material,
                              volume_mL=first.volume_mL)]
    return Plan((
        *poured, Tare(id="tare-it", flask="stripped"),
        Transfer(id="pour-it", flask=START_FLASK, into="stripped"),
        replace(strips[-1], id="strip-it", flask="stripped"),
        Weigh(id="weigh-it", flask="stripped")))


def _loss(name: str, change: Change, number: str = "L") -> Mistake:
    return Mistake(number, name, change, frozenset(), always)


def _every_fate(name: str, washed: Callable[[str], Change]) -> tuple[Mistake, ...]:
    return tuple(_loss(f"{name}, {then}", washed(then))
                 for then in ("left", "labelled", "discarded", "waste"))


LOSSES: tuple[Mistake, ...] = (
    _loss("only a vial", _only_a_vial),
    _loss("stops before the drying agent", _until(Dry)),
    _loss("stops before the weighing", _until(Weigh)),
    _loss("filter step left out", _filter_forgotten),
    _loss("filtered into another flask", _filtered_elsewhere),
    _loss("another flask weighed", _another_weighed),
    *_every_fate("acid on the layer", lambda then: _washed_with(ACIDS, 30.0, 2, then)),
    *_every_fate("hydroxide on the layer", lambda then: _washed_with(ALKALIS, 30.0, 2, then)),
    *_every_fate("much water on the layer", lambda then: _washed_with(("water",), 60.0, 3, then)),
    _loss("wrong layer of the last wash", _last_wash_wrong),
    _loss("dried layer poured away", _dried_layer_tipped),
    _loss("a tenth of the solvent", _tenth_of_the_solvent),
    _loss("water layer into the product", _water_layer_into_product),
    _loss("evaporator neither warm nor evacuated", _nothing_boils),
    _loss("filtrate weighed for the solid", _filtrate_kept),
    _loss("stripped without parting", _stripped_without_parting),
)
