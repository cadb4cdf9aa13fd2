"""Rules about drying: whether there is any, with what, how much, and what stays in the flask."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.plan import Dry, Filter, Strip

from ..assessment import Number, Strength
from ..case import Case
from ..numbers import percent
from ..rule import Breach, Cost, Remark, rule
from .rewriting import strip_elsewhere

SHORT_OF_NEED, SURE = 0.8, 0.75
LEAST_BOUND = 0.01


def agent_for(case: Case) -> str | None:
    """A drying agent of the exercise that is compatible with every target, magnesium sulfate
    first (fast, neutral enough)."""
    tables = case.inventory.tables
    classes = frozenset().union(*(tables.substances[t].classes for t in case.targets))
    agents = [a for a in case.inventory.agents.values() if not a.incompatible & classes]
    order = sorted(agents, key=lambda a: (a.key != "magnesium_sulfate", a.key))
    return order[0].key if order else None


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
    does. A drying agent takes both.
    """
    if any(isinstance(s, Dry) for s in case.plan.steps):
        return
    strips = [(i, s) for i, s, _ in case.steps() if isinstance(s, Strip)]
    agent = agent_for(case)
    if not strips or agent is None:
        return
    at, strip = strips[0]
    feeder = next(
        (
            s
            for s in reversed(case.plan.steps[:at])
            if isinstance(s, Filter) and s.into == strip.flask
        ),
        None,
    )
    if feeder is not None:
        dry = Dry(id=case.plan.free_id("dry-added"), flask=feeder.flask, agent=agent)
        mended = case.plan.inserting(case.plan.index(feeder.id), dry)
    else:
        dry = Dry(id=case.plan.free_id("dry-added"), flask=strip.flask, agent=agent)
        plan = strip_elsewhere(case.plan, strip, "filtered")
        solvent = next(iter(case.inventory.solvents))
        over = Filter(
            id=case.plan.free_id("filter-added"),
            flask=strip.flask,
            into="filtered",
            rinse_with=solvent,
            rinse_mL=5.0,
            rinses=2,
        )
        mended = plan.inserting(at, dry, over)

    def say(cost: Cost | None) -> Remark:
        foreign = cost.foreign.nominal if cost else 0.0
        return Remark(
            Strength.ADVICE if foreign < 0.05 else Strength.PRODUCT_LOSS,
            "The organic layer is never dried; water and salt worth "
            f"{percent(max(foreign, 0.0))} of the product stay in it.",
            f"Dry over {case.inventory.tables.agents[agent].name} and filter before stripping.",
            score_loss=min(1.0, 0.5 + max(foreign, 0.0)),
        )

    yield Breach(strip.id, say, mended)


@rule(
    "agent-incompatible",
    check="drying",
    title="This drying agent takes the product",
    source="CaCl2 binds alcohols, amines, phenols and amides; K2CO3 takes acids and phenols",
    stage=2,
)
def agent_incompatible(case: Case) -> Iterator[Breach]:
    """Calcium chloride forms complexes with alcohols, amines, phenols and amides; potassium
    carbonate makes salts with acids and phenols. What is bound stays on the filter. How much is
    bound is an estimate.
    """
    other = agent_for(case)
    for _, step, facts in case.steps():
        if not isinstance(step, Dry) or facts.drying is None:
            continue
        for target in case.targets:
            bound = facts.drying.bound_product.get(target)
            if bound is None or float(bound[0]) <= 0:
                continue
            share = float(bound[0]) / max(case.available(target), 1e-9)
            if share < LEAST_BOUND:
                continue
            mended = case.plan.replacing(replace(step, agent=other)) if other else None
            name = case.inventory.tables.agents[step.agent].name
            yield Breach(step.id, partial(_bound_remark, share, name), mended)


def _bound_remark(share: float, name: str, cost: Cost | None) -> Remark:
    return Remark(
        cost.loss_strength() if cost else Strength.ADVICE,
        f"{name[0].upper() + name[1:]} binds {percent(share)} of the product, which stays on the "
        "filter.",
        "Take an agent that leaves this kind of compound alone.",
        (Number("product bound", share * 100, "%"),),
        score_loss=min(1.0, max(0.2, 2 * share)),
    )


@rule(
    "too-little-agent",
    check="drying",
    title="Too little drying agent",
    source="hydrate staircase of the agent at the water activity of the layer",
    stage=3,
)
def too_little_agent(case: Case) -> Iterator[Breach]:
    """Enough is when the last portion stays loose: a few particles swirl like snow while the
    rest lies clumped. Then the agent stands on a hydrate that still pulls water, and the solvent
    above it is dry enough. A weighed amount may miss that point.
    """
    for i, step, facts in case.steps():
        if not isinstance(step, Dry) or facts.drying is None or not case.dries_product(i, step):
            continue
        drying = facts.drying
        need = np.asarray(drying.needed_g) - case.inventory.practice["loose_g"]
        short = drying.mass_g < SHORT_OF_NEED * need
        if step.endpoint != "weighed" or float(np.mean(short)) < SURE or not bool(short[0]):
            continue
        yield _too_little(case, step, float(drying.mass_g[0]), need, drying.agent_look)


def _too_little(case: Case, step: Dry, mass: float, need: np.ndarray, look: str) -> Breach:
    low, high = (float(v) for v in np.percentile(need, [5, 95]))
    mended = case.plan.replacing(replace(step, endpoint="free-flowing", mass_g=0.5))

    def say(cost: Cost | None) -> Remark:
        foreign = cost.foreign if cost else None
        stays = ""
        if foreign is not None and foreign.nominal > 0.001:
            stays = (
                f" Water and salt worth {percent(foreign.nominal)} of the product stay in "
                "the flask."
            )
        elif foreign is not None:
            stays = (
                " Here the water still leaves with the solvent, but the endpoint is missed "
                "and the droplets' salt stays."
            )
        return Remark(
            Strength.ADVICE,
            f"{mass:g} g of agent is short of the {float(need[0]):.1f} g that the water load "
            f"asks for ({low:.1f} to {high:.1f} g): it stays {look}." + stays,
            "Add agent in small portions until the last one stays loose.",
            (Number("agent", mass, "g"), Number("agent needed", float(need[0]), "g", low, high)),
            score_loss=min(0.8, max(0.3, 1.0 - mass / max(float(need[0]), 1e-6))),
        )

    return Breach(step.id, say, mended)


@rule(
    "too-short-drying",
    check="drying",
    title="Too little time over the agent",
    source="first-order approach with the agent's time constant (common practice, no source)",
    stage=3,
)
def too_short_drying(case: Case) -> Iterator[Breach]:
    """Magnesium sulfate is fast, sodium sulfate slow: it needs a quarter of an hour. A layer
    poured off too soon is still wet.
    """
    for i, step, facts in case.steps():
        if not isinstance(step, Dry) or facts.drying is None or not case.dries_product(i, step):
            continue
        constant = case.inventory.tables.agents[step.agent].time_constant_min.value
        done = 1.0 - float(np.exp(-step.minutes / constant))
        if done > 0.6:
            continue
        mended = case.plan.replacing(replace(step, minutes=3.0 * constant))
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"In this time the agent does {percent(done)} of its work.",
                f"Leave it for about {3 * constant:.0f} minutes and swirl now and then.",
                (Number("share of the drying done", done * 100, "%"),),
                score_loss=0.15,
            ),
            mended,
        )


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
    for _, step, facts in case.steps():
        if isinstance(step, Dry) and facts.drying is not None and facts.drying.wrong_layer:
            yield Breach(
                step.id,
                Remark(
                    Strength.ADVICE,
                    "The drying agent goes into a flask that is mostly water, and dissolves.",
                    "Find the organic layer and dry that.",
                    score_loss=0.5,
                ),
            )


@rule(
    "cake-not-rinsed",
    check="drying",
    title="The drying agent is not rinsed",
    source="liquid held by the wet solid; rinse law (h/(h + r))^n",
    stage=4,
)
def cake_not_rinsed(case: Case) -> Iterator[Breach]:
    """The wet drying agent holds solution, and product with it. Two small rinses with fresh
    solvent bring nearly all of it back.
    """
    for i, step, _ in case.steps():
        if not isinstance(step, Filter) or (step.rinses and step.rinse_with):
            continue
        if not _has_solvent(case, i, step.flask):
            continue
        target = case.main_target(case.before(i), step.flask)
        left = case.share_in(case.after(i), step.flask, target)
        if left < 0.01:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE if left > 0.02 else Strength.INFORMATION,
                f"The drying agent holds back {percent(left)} of the product.",
                "Rinse it with a few mL of fresh solvent, twice, into the same flask.",
                (Number("product on the drying agent", left * 100, "%"),),
                score_loss=min(0.2, left) if left > 0.02 else 0.0,
            ),
        )


def _has_solvent(case: Case, index: int, flask: str) -> bool:
    """Whether there is an extraction solvent: a neat product has nothing to be rinsed with."""
    inv = case.inventory
    return float(case.before(index).flasks[flask].organic[inv.solvent_rows, 0].sum()) > 0


@rule(
    "powder-decanted",
    check="drying",
    title="A powder is decanted",
    source="trade practice: decant granular agents only; Nichols 7.19",
    stage=4,
)
def powder_decanted(case: Case) -> Iterator[Breach]:
    """A fine powder such as magnesium sulfate comes over when it is decanted; it must be
    filtered. Granular agents can be decanted.
    """
    for i, step, _ in case.steps():
        if not isinstance(step, Filter) or step.method != "decant":
            continue
        solid = case.before(i).flasks[step.flask].solid
        inv = case.inventory
        powders = [
            a
            for a, r in inv.agent_rows.items()
            if float(solid[r, 0]) > 0 and not inv.agents[a].decantable
        ]
        if not powders:
            continue
        over = case.after(i).flasks[step.into].solid
        grams = sum(
            float(over[inv.agent_rows[a], 0] * inv.molar_mass[inv.agent_rows[a]] * 1e-3)
            for a in powders
        )
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"Fine powder comes over when it is decanted: about {grams * 1000:.0f} mg of the "
                "drying agent go with the product.",
                "Filter through fluted paper or a cotton plug.",
                (Number("drying agent carried over", grams * 1000, "mg"),),
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, method="gravity")),
        )
