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
from ..rule import Breach, Cost, Remark, band, rule
from .cosolvent import clinging_g
from .rewriting import filtered_after, strip_elsewhere

MUCH_SOLVENT = 0.25


def _dryings(case: Case) -> list[tuple[int, Dry]]:
    return [(i, s) for i, s, _ in case.steps() if isinstance(s, Dry) and case.dries_product(i, s)]


@rule(
    "wet-again-after-drying",
    check="order",
    title="Washed again after drying",
    source="precedence: last contact with water, then the drying agent",
    stage=2,
)
def wet_again_after_drying(case: Case) -> Iterator[Breach]:
    """A drying agent takes the water out of the solvent; the next shake with a water layer puts
    it all back. Dry after the last wash, and only then.
    """
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
        mended = rest.inserting(rest.index(wash.id) + 1, moved)
        yield Breach(dry.id, _wet_again, filtered_after(mended, moved, case))


def _wet_again(cost: Cost | None) -> Remark:
    foreign = cost.foreign.nominal if cost else 0.0
    tail = (
        f" What is weighed then holds water and salt worth {percent(foreign)} of the product "
        "more than if it were dried last."
        if foreign > 0.001
        else " The solvent goes to the evaporator saturated with water."
    )
    return Remark(
        Strength.PRODUCT_LOSS if foreign > 0.05 else Strength.ADVICE,
        "The dried layer is shaken with water again and not dried after that." + tail,
        "Move the drying step behind the last wash.",
        (Number("more water and salt in the product", max(foreign, 0.0) * 100, "%"),),
        score_loss=0.4,
    )


@rule(
    "wet-receiver",
    check="order",
    title="Filtered into a wet flask",
    source="trade practice: the flask that takes the dried solution is clean and dry; its water "
    "adds to what was dried away",
    stage=3,
)
def wet_receiver(case: Case) -> Iterator[Breach]:
    """A flask that was just rinsed with water holds a few drops of it. Filter the dried solution
    into one that is clean and dry: its water would go back into what the drying agent has dried,
    and into the tare.
    """
    water_mL = float(case.inventory.practice["wet_flask_mL"][0])
    for i, step, _ in case.steps():
        if not isinstance(step, Filter) or step.receiver == RECEIVERS[0]:
            continue
        if not case.holds_product(case.before(i), step.flask):
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"The flask is wet from rinsing: about {water_mL:.1f} mL of water goes back into "
                "the solution.",
                "Take a clean, dry flask.",
                (Number("water in the flask", water_mL, "mL"),),
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, receiver=RECEIVERS[0])),
        )


@rule(
    "agent-not-filtered",
    check="order",
    title="Stripped with the drying agent still in",
    source="hydrates give their water back when heated; University of Alberta drying-agent card",
    stage=2,
)
def agent_not_filtered(case: Case) -> Iterator[Breach]:
    """The drying agent must be filtered or decanted off before the solvent is taken away.
    Otherwise it is weighed with the product, and warm hydrates give their water back.
    """
    for i, step, facts in case.steps():
        if not isinstance(step, Strip) or facts.strip is None or not facts.strip.solid_present:
            continue
        flask = case.before(i).flasks[step.flask]
        inv = case.inventory
        agent = sum(
            float(flask.solid[r, 0] * inv.molar_mass[r] * 1e-3) for r in inv.agent_rows.values()
        )
        product = float(
            flask.total()[inv.index[case.targets[0]], 0]
            * inv.molar_mass[inv.index[case.targets[0]]]
            * 1e-3
        )
        if agent < 0.02 * max(product, 1e-9):
            continue
        yield _not_filtered(case, i, step)


def _not_filtered(case: Case, index: int, step: Strip) -> Breach:
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
    mended = rest.inserting(index, *added)

    def say(cost: Cost | None) -> Remark:
        share = cost.foreign.nominal if cost else 0.3
        return Remark(
            Strength.PRODUCT_LOSS,
            "The solvent is taken off with the drying agent still in the flask; what is weighed "
            f"is too heavy by {percent(share)} of the product.",
            "Filter or decant into the tared flask, rinse the solid with a little solvent, then "
            "strip.",
            score_loss=min(1.0, 0.4 + share),
        )

    return Breach(step.id, say, mended)


@rule(
    "never-stripped",
    check="order",
    title="The solvent is never taken off",
    source="the mass of a solution is not a yield",
    stage=2,
)
def never_stripped(case: Case) -> Iterator[Breach]:
    """The product is weighed when the solvent is gone. A flask that still holds solvent weighs
    many times the product.
    """
    for found in case.measures():
        share = float(found.solvent_g[0] / max(found.available_g[0], 1e-9))
        collected = any(isinstance(s, Collect) and s.into == found.flask
                        for s in case.plan.steps)
        if share < 0.5 or collected or _last_strip(case, found.flask) is not None:
            continue
        weighings = case.plan.of(Weigh)
        weigh = next((s for s in weighings if s.flask == found.flask),
                     next(iter(weighings), None))
        at = case.plan.index(weigh.id) if weigh else len(case.plan.steps)
        strip = Strip(id=case.plan.free_id("strip-added"), flask=found.flask, pressure_mbar=30.0)
        yield Breach(
            weigh.id if weigh else case.ends_with(found.target),
            Remark(
                Strength.PRODUCT_LOSS,
                "The product is still dissolved in the solvent at the end.",
                "Take the solvent off before weighing.",
            ),
            case.plan.inserting(at, strip),
        )


@rule(
    "solvent-left",
    check="order",
    title="Solvent stays in the product",
    source="Raoult's law: x_solvent = P/Psat at the bath temperature",
    stage=3,
)
def solvent_left(case: Case) -> Iterator[Breach]:
    """Boiling stops when the solvent's partial pressure over the product has fallen to the
    pressure in the apparatus; what is left then comes off slowly. A lower pressure, a warmer
    bath or a longer hold takes it further; weigh again until the mass stays the same. A little
    solvent costs no marks; a quarter of the product or more says that it was hardly stripped.
    A solvent that boils too high for this is a matter of washing and told there.
    """
    for found in case.measures():
        comes_off = found.solvent_g - clinging_g(case, found)
        held = band(comes_off / np.maximum(found.available_g, 1e-9))
        share = held.nominal
        strips = case.plan.of(Strip)
        last = _last_strip(case, found.flask) or next(iter(reversed(strips)), None)
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
                f"Solvent worth {percent(share)} of the product is still in it.",
                "Hold longer or at a lower pressure, and weigh until two readings agree.",
                (
                    Number(
                        "solvent still there", share * 100, "%", held.low * 100, held.high * 100
                    ),
                ),
                score_loss=min(0.4, max(0.0, held.low - MUCH_SOLVENT)),
            ),
            mended,
        )


def _last_strip(case: Case, flask: str) -> Strip | None:
    """The last stripping of what ends in a flask: there, or before it was poured over."""
    found = None
    for i, step, _ in case.steps():
        if isinstance(step, Strip):
            onward = case.run.flow.after(i, step.flask)
            if step.flask == flask or any(flask in s.carries_on_in() for _, s in onward):
                found = step
    return found


@rule(
    "product-boiled-off",
    check="order",
    title="The product evaporates with the solvent",
    source="ideal open evaporation: n = n0 exp(-P xi), vapour pressures by Antoine",
    stage=3,
)
def product_boiled_off(case: Case) -> Iterator[Breach]:
    """A product with a vapour pressure of its own leaves with the solvent, the more the warmer
    the bath, the lower the pressure and the longer the hold. Stop when the solvent is gone.
    """
    for _, step, facts in case.steps():
        if not isinstance(step, Strip) or facts.strip is None:
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
        f"{percent(share)} of the product evaporates with the solvent.",
        "Use a cooler bath, a higher final pressure or a shorter hold.",
        (Number("product evaporated", share * 100, "%"),),
    )


@rule(
    "never-weighed",
    check="order",
    title="The product is never weighed",
    source="without a mass there is no yield",
    stage=4,
)
def never_weighed(case: Case) -> Iterator[Breach]:
    """A plan ends when each product has been weighed, cool and dry outside. Without a mass there is
    no yield.
    """
    if len(case.plan.of(Weigh)) < len(case.targets):
        flasks = _unweighed(case)
        yield Breach(
            case.run.flow.last_acting_on(flasks[0]) if flasks else "",
            Remark(
                Strength.ADVICE,
                "Not every product is weighed in this plan.",
                "Weigh each product in its tared flask.",
            ),
            _all_weighed(case.plan, flasks),
        )


def _unweighed(case: Case) -> list[str]:
    """The flasks that hold most of each product at the end, without those that are weighed."""
    end = case.run.end
    weighed = {s.flask for s in case.plan.steps if isinstance(s, Weigh)}
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
