"""Rules about what must come before what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.plan import (
    RECEIVERS,
    Collect,
    Dry,
    Filter,
    Plan,
    Strip,
    Tare,
    Wash,
    Weigh,
)
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import WORTH_SHOWING, Breach, Cost, Remark, Words, band, ramp, rule
from .contents import last_strip, neat_weighings
from .cosolvent import clinging_g
from .rewriting import filtered_after, strip_elsewhere

say = Words("sequence")
MUCH_SOLVENT = 0.25
# Agent in the flask, g per g of product, and the share of the check that it takes beside what it
# weighs (judgement).
LEAST_AGENT, MUCH_AGENT, AGENT_IN_FLASK = 0.02, 0.1, 0.4


def _dryings(case: Case) -> list[tuple[int, Dry]]:
    return [(i, s) for i, s, _ in case.of(Dry) if case.dries_product(i, s)]


@rule("wet-again-after-drying", check="order", stage=2)
def wet_again_after_drying(case: Case) -> Iterator[Breach]:
    """A later drying of the same layer makes it good."""
    for i, dry in _dryings(case):
        onward = list(case.run.flow.after(i, dry.flask))
        washes = [(k, w) for k, w in onward if isinstance(w, Wash) and case.washes_product(k, w)]
        if not washes:
            continue
        last, wash = washes[-1]
        if any(isinstance(s, Dry) for k, s in onward if k > last or k < washes[0][0]):
            continue
        rest = case.plan.without(dry.id)
        moved = replace(dry, flask=wash.keep_in)
        mended = rest.inserting(_last_wet(rest, wash) + 1, moved)
        yield Breach(dry.id, _wet_again, filtered_after(mended, moved, case))


def _last_wet(plan: Plan, wash: Wash) -> int:
    """Where the last layer comes to what a wash keeps, before it is filtered or stripped."""
    at = plan.index(wash.id)
    for i, step in enumerate(plan.steps[at + 1:], at + 1):
        if isinstance(step, Filter | Strip) and step.flask == wash.keep_in:
            break
        if step.layers() and wash.keep_in in step.carries_on_in():
            at = i
    return at


def _wet_again(cost: Cost | None) -> Remark:
    foreign = cost.foreign.nominal if cost else 0.0
    wording = "weighed" if foreign > WORTH_SHOWING else ""
    return Remark(
        Strength.PRODUCT_LOSS if foreign > 0.05 else Strength.ADVICE,
        *say("wet-again-after-drying", wording, foreign=percent(foreign)),
        (Number("more water and salt in the product", max(foreign, 0.0) * 100, "%"),),
        score_loss=0.4,
    )


@rule("wet-receiver", check="order", stage=3)
def wet_receiver(case: Case) -> Iterator[Breach]:
    """Any receiver but the dry one, by the water that the exercise gives a wet flask."""
    water_mL = float(case.inventory.practice["wet_flask_mL"][0])
    for i, step, _ in case.of(Filter):
        if step.receiver == RECEIVERS[0]:
            continue
        if not case.holds_product(case.before(i), step.flask):
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                *say("wet-receiver", water_mL=water_mL),
                (Number("water in the flask", water_mL, "mL"),),
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, receiver=RECEIVERS[0])),
        )


@rule("agent-not-filtered", check="order", stage=2)
def agent_not_filtered(case: Case) -> Iterator[Breach]:
    """From 2 % of the product's mass of agent in a flask that is stripped, or weighed where nothing
    is boiled off; the points rise to a tenth."""
    for i, step, facts in case.of(Strip):
        if facts.strip is not None and facts.strip.solid_present and (
                _agent_held(case, i, step.flask) >= LEAST_AGENT):
            yield Breach(step.id, partial(_weighed_with_agent, _agent_held(case, i, step.flask)),
                         _filtered_before(case, i, step))
    for i, weigh in neat_weighings(case):
        held = _agent_held(case, i, weigh.flask)
        if held >= LEAST_AGENT:
            dryings = case.plan.of(Dry, i)
            mended = filtered_after(case.plan, dryings[-1], case) if dryings else None
            yield Breach(weigh.id, partial(_weighed_with_agent, held),
                         None if mended == case.plan else mended)


def _agent_held(case: Case, index: int, name: str) -> float:
    """Mass of drying agent in a flask, g per g of the product there."""
    flask, inv = case.before(index).flasks[name], case.inventory
    agent = sum(float(flask.solid[r, 0] * inv.molar_mass[r]) for r in inv.agent_rows.values())
    row = inv.index[case.targets[0]]
    return agent / max(float(flask.of(row)[0] * inv.molar_mass[row]), 1e-6)


def _weighed_with_agent(held: float, cost: Cost | None) -> Remark:
    share = cost.foreign.nominal if cost else 0.3
    return Remark(
        Strength.PRODUCT_LOSS,
        *say("agent-not-filtered", share=percent(share)),
        score_loss=min(1.0, AGENT_IN_FLASK * ramp(held, LEAST_AGENT, MUCH_AGENT) + share),
    )


def _filtered_before(case: Case, index: int, step: Strip) -> Plan:
    rest = strip_elsewhere(case.plan, step, "filtered")
    solvent = next(iter(case.inventory.solvents), "")
    added = [
        Filter(
            id=case.plan.free_id(f"filter-before-{step.id}"),
            flask=step.flask,
            into="filtered",
            rinse_with=solvent,
            rinse_mL=5.0,
            rinses=2,
        )
    ]
    if step.flask in case.before(index).tared:
        rest = rest.inserting(
            index, Tare(id=case.plan.free_id(f"tare-before-{step.id}"), flask="filtered")
        )
        index += 1
    return rest.inserting(index, *added)


@rule("never-stripped", check="order", stage=2)
def never_stripped(case: Case) -> Iterator[Breach]:
    """More solvent than half the product at the end, and nothing that takes it off on the way."""
    for found in case.measures():
        share = float(found.solvent_g[0] / max(found.available_g[0], 1e-9))
        collected = any(s.into == found.flask for s in case.plan.of(Collect))
        if share < 0.5 or collected or last_strip(case, found.flask) is not None:
            continue
        weighings = case.plan.of(Weigh)
        weigh = next((s for s in weighings if s.flask == found.flask),
                     next(iter(weighings), None))
        at = case.plan.index(weigh.id) if weigh else len(case.plan.steps)
        strip = Strip(id=case.plan.free_id("strip-added"), flask=found.flask, pressure_mbar=30.0)
        yield Breach(
            weigh.id if weigh else case.ends_with(found.target),
            Remark(Strength.PRODUCT_LOSS, *say("never-stripped")),
            case.plan.inserting(at, strip),
        )


@rule("solvent-left", check="order", stage=3)
def solvent_left(case: Case) -> Iterator[Breach]:
    """Solvent that would come off; what clings to the product for good is left out."""
    for found in case.measures():
        comes_off = found.solvent_g - clinging_g(case, found)
        held = band(comes_off / np.maximum(found.available_g, 1e-9))
        share = held.nominal
        strips = case.plan.of(Strip)
        last = last_strip(case, found.flask) or next(iter(reversed(strips)), None)
        if share < 0.02 or found.product_g[0] <= 0 or last is None:
            continue
        mended = case.plan.replacing(
            replace(
                last, hold_min=last.hold_min + 15.0, pressure_mbar=min(last.pressure_mbar, 30.0)
            )
        )
        yield Breach(
            last.id,
            Remark(
                Strength.ADVICE,
                *say("solvent-left", share=percent(share)),
                (
                    Number(
                        "solvent still there", share * 100, "%", held.low * 100, held.high * 100
                    ),
                ),
                score_loss=min(0.4, max(0.0, held.low - MUCH_SOLVENT)),
            ),
            mended,
        )


@rule("product-boiled-off", check="order", stage=3)
def product_boiled_off(case: Case) -> Iterator[Breach]:
    """From a tenth of the product, where stripping more gently is another step at all."""
    for _, step, facts in case.of(Strip):
        if facts.strip is None:
            continue
        for target in case.targets:
            lost = facts.strip.lost.get(target)
            if lost is None:
                continue
            share = float(lost[0]) / max(case.available(target), 1e-9)
            gentle = replace(
                step,
                hold_min=min(step.hold_min, 5.0),
                pressure_mbar=max(step.pressure_mbar, 30.0),
                bath_C=min(step.bath_C, 40.0),
            )
            if share < 0.10 or gentle == step:
                continue
            yield Breach(step.id, partial(_boiled_off, share), case.plan.replacing(gentle))


def _boiled_off(share: float, cost: Cost | None) -> Remark:
    return Remark(
        cost.loss_strength() if cost else Strength.ADVICE,
        *say("product-boiled-off", share=percent(share)),
        (Number("product evaporated", share * 100, "%"),),
    )


@rule("never-weighed", check="order", stage=4)
def never_weighed(case: Case) -> Iterator[Breach]:
    """Counts weighings, not flasks; the mend weighs the flasks that hold most at the end."""
    if len(case.plan.of(Weigh)) < len(case.targets):
        flasks = _unweighed(case)
        yield Breach(
            case.run.flow.last_acting_on(flasks[0]) if flasks else "",
            Remark(Strength.ADVICE, *say("never-weighed", what=_not_weighed(case))),
            _all_weighed(case.plan, flasks),
        )


def _not_weighed(case: Case) -> str:
    """No product, of several or of one; or not all of them."""
    several = len(case.targets) > 1
    if case.plan.of(Weigh):
        return "Not every product is"
    return "None of the products is" if several else "The product is not"


def _unweighed(case: Case) -> list[str]:
    """The flasks that hold most of each product at the end, without those that are weighed."""
    end = case.run.end
    weighed = {s.flask for s in case.plan.of(Weigh)}
    fullest = (max(end.flasks, key=lambda name: case.share_in(end, name, target))
               for target in case.targets)
    return [flask for flask in dict.fromkeys(fullest) if flask not in weighed]


def _all_weighed(plan: Plan, flasks: list[str]) -> Plan | None:
    """The plan with these flasks put on the balance at the end; None where there are none."""
    weighing = plan
    for flask in flasks:
        stem = "weigh-" + "".join(c if c.isalnum() else "-" for c in flask)
        weighing = weighing.inserting(
            len(weighing.steps), Weigh(id=weighing.free_id(stem), flask=flask))
    return weighing if flasks else None
