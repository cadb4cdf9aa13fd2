"""Rules about drying: whether there is any, of which layer, and how wet it may come."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from workups.chemistry.plan import Dry, Filter, Plan, Separate, Strip, Transfer, Weigh
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, ramp, rule
from .contents import agent_for, dried_flasks, layers_mL, neat_weighings, solvent_mL
from .rewriting import strip_elsewhere

LEAST_SOLVENT_ML, LEAST_PUDDLE_ML = 1.0, 1.0
MORE_AGENT, MUCH_MORE_AGENT, PUDDLE_COSTS = 1.3, 2.0, 0.15
# Share of the drying check that a step left out costs, whatever the water: where the exercise
# expects it, and where it asks for it in so many words.
ASKED = {"expected": 0.5, "required": 0.7}


@rule(
    "not-dried",
    check="drying",
    title="No drying agent",
    source="water dissolved in the solvent and its droplets, as computed",
    stage=3,
)
def not_dried(case: Case) -> Iterator[Breach]:
    """After the last wash the organic layer holds dissolved water and fine droplets of the last
    water layer, with the salt in them. Much of the water leaves with the solvent; the salt never
    does. A drying agent takes both. Drying is expected as a step of its own, so leaving it out
    costs a little even where computed next to no water stays, and by what stays. An exercise may
    require it, ask for it only where water and salt in the product are above its limit, or not at
    all.
    """
    agent, asked = agent_for(case), case.exercise.choice("drying")
    if agent is None or asked == "free" or (asked not in ASKED and not _comes_wet(case)):
        return
    shaken = _shaken_flasks(case)
    for at, strip, _ in case.of(Strip):
        if not case.holds_product(case.before(at), strip.flask):
            continue
        flask = case.before(at).flasks[strip.flask]
        dry = strip.flask in dried_flasks(case.plan, at)
        if dry or not shaken[at] or solvent_mL(case, flask.organic) < LEAST_SOLVENT_ML:
            continue
        if any(i > at for i, _ in case.product_washes()) and len(case.targets) == 1:
            continue
        yield _undried(case, at, strip, agent)
    for at, weigh in neat_weighings(case):
        if weigh.flask not in dried_flasks(case.plan, at) and shaken[at]:
            yield _undried(case, at, weigh, agent)


def _comes_wet(case: Case) -> bool:
    """Whether water and salt in what is weighed are above the limit of the exercise."""
    limits = {t.substance: t.water_and_salt_limit for t in case.exercise.setup.targets}
    return any(float(m.water_g[0] + m.salt_g[0]) > limits[m.target] * float(m.available_g[0])
               for m in case.measures())


def _shaken_flasks(case: Case) -> list[bool]:
    """Before each step, whether anything was shaken with water yet."""
    shaken, found = False, []
    for step in case.plan.steps:
        found.append(shaken)
        shaken = shaken or bool(step.layers())
    return found


def _undried(case: Case, at: int, step: Strip | Weigh, agent: str) -> Breach:
    feeding = [s for s in case.plan.of(Filter, at) if s.into == step.flask]
    feeder = feeding[-1] if feeding else None
    mended: Plan | None = None
    if feeder is not None:
        dry = Dry(id=case.plan.free_id("dry-added"), flask=feeder.flask, agent=agent)
        paper = case.plan.replacing(replace(feeder, method="gravity"))
        mended = paper.inserting(paper.index(feeder.id), dry)
    elif isinstance(step, Strip):
        mended = _dried_and_filtered(case, at, step, agent)
    else:
        mended = _poured_over_dried(case.plan, step, agent)
    asked = case.exercise.choice("drying")
    over = any(k == at for i, s, _ in case.of(Dry)
               for k, _ in case.run.flow.after(i, s.flask))
    never = "is not dried after its last contact with water" if over else "is never dried"
    wanted = f", and drying is {asked} in this exercise" if asked in ASKED else ""

    def say(cost: Cost | None) -> Remark:
        foreign = max(cost.foreign.nominal, 0.0) if cost else 0.0
        return Remark(
            Strength.ADVICE if foreign < 0.05 else Strength.PRODUCT_LOSS,
            f"This organic layer {never}{wanted}; a drying agent would keep water and salt worth "
            f"{percent(foreign)} of the product out of it.",
            f"Dry over {case.inventory.tables.agents[agent].name} and filter before stripping.",
            score_loss=min(1.0, ASKED.get(asked, 0.0) + foreign),
        )

    return Breach(step.id, say, mended)


def _poured_over_dried(plan: Plan, weigh: Weigh, agent: str) -> Plan | None:
    """The plan with a product that lies in no solvent dried before it is poured to the flask that
    is weighed, and filtered instead; None where it is poured nowhere."""
    poured = [s for s in plan.of(Transfer, plan.index(weigh.id)) if s.into == weigh.flask]
    if not poured:
        return None
    pour = poured[-1]
    over = Filter(id=pour.id, flask=pour.flask, into=pour.into, rinse_with=pour.rinse_with,
                  rinse_mL=pour.rinse_mL, rinses=pour.rinses)
    dry = Dry(id=plan.free_id("dry-added"), flask=pour.flask, agent=agent)
    return plan.replacing(over).inserting(plan.index(pour.id), dry)


def _dried_and_filtered(case: Case, at: int, strip: Strip, agent: str) -> Plan:
    """The plan with the flask dried and filtered into another before it is stripped there."""
    new = "filtered" if "filtered" not in case.before(at).flasks else f"filtered {strip.id}"
    plan = strip_elsewhere(case.plan, strip, new)
    over = Filter(
        id=case.plan.free_id("filter-added"),
        flask=strip.flask,
        into=new,
        rinse_with=next(iter(case.inventory.solvents)),
        rinse_mL=5.0,
        rinses=2,
    )
    dry = Dry(id=case.plan.free_id("dry-added"), flask=strip.flask, agent=agent)
    return plan.inserting(at, dry, over)


@rule(
    "wrong-layer-dried",
    check="drying",
    title="The drying agent goes into the water layer",
    source="a drying agent that dissolves has found water",
    stage=3,
)
def wrong_layer_dried(case: Case) -> Iterator[Breach]:
    """A drying agent put into a water layer simply dissolves. If it seems to vanish, this is the
    wrong flask: find the organic layer.
    """
    for i, step, facts in case.of(Dry):
        if facts.drying is not None and facts.drying.wrong_layer:
            yield Breach(
                step.id,
                Remark(
                    Strength.ADVICE,
                    "The drying agent goes into a flask that is mostly water, and dissolves.",
                    "Find the organic layer and dry that.",
                    score_loss=0.5,
                ),
                _organic_layer_dried(case, i, step),
            )


def _organic_layer_dried(case: Case, index: int, step: Dry) -> Plan | None:
    """The plan with the agent put into the organic layer that holds most product; without this
    step where that layer is dried anyway. None if no organic layer stands there."""
    state = case.before(index)
    layers: dict[str, float] = {}
    for name, flask in state.flasks.items():
        organic_mL, water_mL = layers_mL(case, flask)
        if organic_mL > water_mL:
            layers[name] = max(case.share_in(state, name, t) for t in case.targets)
    if not layers:
        return None
    name = max(layers, key=lambda n: layers[n])
    if any(s.flask == name for s in case.plan.of(Dry)):
        return case.plan.without(step.id)
    return case.plan.replacing(replace(step, flask=name))


@rule(
    "visible-water",
    check="drying",
    title="A water layer goes to the drying agent",
    source="agent needed for the water there is, with and without it; Nichols 7.19",
    stage=2,
)
def visible_water(case: Case) -> Iterator[Breach]:
    """A drying agent is for dissolved water and droplets. A puddle under the organic layer uses up
    many times as much of it and turns it to paste: draw the water off first.
    """
    for i, step, facts in case.of(Dry):
        if facts.drying is None or facts.drying.wrong_layer:
            continue
        flask = case.before(i).flasks[step.flask]
        organic, water = layers_mL(case, flask)
        if not case.dries_product(i, step) or water < LEAST_PUDDLE_ML or organic < water:
            continue
        apart = Separate(
            id=case.plan.free_id(f"separate-before-{step.id}"),
            flask=step.flask,
            keep="lower" if _heavy(case, flask.organic) else "upper",
            keep_in=step.flask,
            other_in=f"water from {step.flask}",
        )
        mended = case.plan.inserting(i, apart)
        better = case.tried(mended)
        less = None if better is None else better.run.outcome(step.id).facts.drying
        here = float(facts.drying.needed_g[0])
        there = here if less is None else float(less.needed_g[0])
        if here < MORE_AGENT * there:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"{water:.0f} mL of water stands under the organic layer: {here:.1f} g of agent "
                f"instead of {there:.1f} g.",
                "Draw the water off before the drying agent goes in.",
                (Number("agent needed", here, "g"), Number("agent without it", there, "g")),
                score_loss=PUDDLE_COSTS * ramp(
                    here / max(there, 1e-6), MORE_AGENT, MUCH_MORE_AGENT),
            ),
            mended,
        )


def _heavy(case: Case, organic: np.ndarray) -> bool:
    volume = float(case.inventory.volume_mL(organic)[0])
    return volume > 0 and float(case.inventory.mass_g(organic)[0]) > volume
