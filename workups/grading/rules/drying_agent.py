"""Rules about the drying agent: which, how much and for how long."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from workups.chemistry.facts import Facts
from workups.chemistry.plan import Dry
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Cost, Remark, ramp, rule, sure
from .contents import agent_for

# Mass over need below which an agent is short, and at which that costs all it can, where nine draws
# of ten say so; the same on the mean of the draws that are counted of a loss (``sure``); and the
# share of the check (judgement).
SURE, SHORT_OF_NEED, FAR_SHORT = 0.9, 0.8, 0.4
HALF_OF_NEED, HARDLY_ANY, UNSURE_COUNTS = 0.5, 0.2, 0.5
MOST_FOR_AGENT = 0.6
TOO_MUCH, LEAST_HELD, MUCH_HELD = 3.0, 0.03, 0.05
LEAST_BOUND = 0.01
# Share of the drying done in the time given up to which it costs all, and from which on nothing.
HARDLY_DONE, MOSTLY_DONE, TOO_SHORT_COSTS = 0.2, 0.6, 0.15
WRONG_AGENT = 0.2


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
    other = agent_for(case, "sodium_sulfate")
    for _, step, facts in case.of(Dry):
        if facts.drying is None:
            continue
        for target in case.targets:
            if not _binds(case, facts, target):
                continue
            share = float(facts.drying.bound_product[target][0]) / case.available(target)
            mended = case.plan.replacing(replace(step, agent=other)) if other else None
            name = case.inventory.tables.agents[step.agent].name
            instead = case.inventory.tables.agents[other].name if other else ""
            yield Breach(step.id, partial(_bound_remark, share, name, instead), mended)


def _bound_remark(share: float, name: str, instead: str, cost: Cost | None) -> Remark:
    return Remark(
        cost.loss_strength() if cost else Strength.ADVICE,
        f"{name[0].upper() + name[1:]} binds {percent(share)} of the product, which stays on the "
        "filter; a rinse does not bring it back.",
        "Take an agent that leaves this kind of compound alone"
        f"{f', such as {instead}' if instead else ''}.",
        (Number("product bound", share * 100, "%"),),
        score_loss=WRONG_AGENT,
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
    above it is dry enough. A weighed amount may miss that point. An agent that is added in several
    steps is judged at the last of them, by all of it.
    """
    for i, step, facts in case.of(Dry):
        if facts.drying is None or not case.dries_product(i, step):
            continue
        drying = facts.drying
        if drying.wrong_layer:
            continue
        need = np.asarray(drying.needed_g) - case.inventory.practice["loose_g"]
        if step.endpoint != "weighed" or _next_portion(case, i, step) is not None:
            continue
        mass, there = float(drying.mass_g[0]), _already_there(case, i, step)
        costs = _short(drying.mass_g + there, need + there)
        if costs > 0.0:
            yield _too_little(case, step, mass, need, drying.agent_look, costs)
        elif drying.agent_look != "free-flowing":
            yield _just_enough(case, step, mass, need, drying.agent_look)


def _next_portion(case: Case, index: int, step: Dry) -> Dry | None:
    """The next thing done to the flask, where that is that more agent goes in."""
    onward = (s for s in case.plan.steps[index + 1:]
              if step.flask in s.takes() and not s.is_passive)
    following = next(onward, None)
    return following if isinstance(following, Dry) else None


def _short(mass: np.ndarray, need: np.ndarray) -> float:
    """The share of the check that too little agent takes: a little short in nearly all draws, or
    far short on the mean without the hardest quarter of them, as losses of product are counted,
    which counts half."""
    shares = mass / np.maximum(need, 1e-6)
    in_nearly_all = 1.0 - ramp(float(np.quantile(shares, SURE)), FAR_SHORT, SHORT_OF_NEED)
    far = np.array([1.0 - ramp(float(share), HARDLY_ANY, HALF_OF_NEED) for share in shares])
    return MOST_FOR_AGENT * max(in_nearly_all, UNSURE_COUNTS * sure(far))


def _earlier_portions(case: Case, index: int, step: Dry) -> list[int]:
    """Where the steps just before one put the same agent to the same flask, the last first."""
    found: list[int] = []
    for at in range(index - 1, -1, -1):
        other = case.plan.steps[at]
        if step.flask not in (*other.takes(), *other.fills()) or other.is_passive:
            continue
        if not isinstance(other, Dry) or other.agent != step.agent:
            break
        found.append(at)
    return found


def _already_there(case: Case, index: int, step: Dry) -> float:
    """Mass of the same agent in a flask before a step puts more to it [g]."""
    inv = case.inventory
    row = inv.agent_rows[step.agent]
    return float(case.before(index).flasks[step.flask].solid[row, 0] * inv.molar_mass[row]) * 1e-3


def _just_enough(case: Case, step: Dry, mass: float, need: np.ndarray, look: str) -> Breach:
    low, high = (float(v) for v in np.percentile(need, [5, 95]))
    return Breach(
        step.id,
        Remark(
            Strength.INFORMATION,
            f"{mass:g} g of agent may just do; it probably stays {look}, so nothing tells that it "
            "is enough.",
            "Add a little more, until the last portion stays loose.",
            (Number("agent", mass, "g"), Number("agent needed", float(need[0]), "g", low, high)),
        ),
        case.plan.replacing(replace(step, endpoint="free-flowing", mass_g=0.5)),
    )


def _too_little(
    case: Case, step: Dry, mass: float, need: np.ndarray, look: str, costs: float
) -> Breach:
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
            score_loss=costs,
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
    for i, step, facts in case.of(Dry):
        if facts.drying is None or not case.dries_product(i, step):
            continue
        constant = case.inventory.tables.agents[step.agent].time_constant_min.value
        done = 1.0 - float(np.exp(-step.minutes / constant))
        if done > MOSTLY_DONE:
            continue
        mended = case.plan.replacing(replace(step, minutes=3.0 * constant))
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"In this time the agent does {percent(done)} of its work.",
                f"Leave it for about {3 * constant:.0f} minutes and swirl now and then.",
                (Number("share of the drying done", done * 100, "%"),),
                score_loss=TOO_SHORT_COSTS * (1.0 - ramp(done, HARDLY_DONE, MOSTLY_DONE)),
            ),
            mended,
        )


@rule(
    "too-much-agent",
    check="drying",
    title="Far too much drying agent",
    source="organic liquid held by the wet solid, about 1 mL per g of a powder (common practice, "
    "no source)",
    stage=4,
)
def too_much_agent(case: Case) -> Iterator[Breach]:
    """A thick cake of drying agent soaks up solution and gives the product back only to rinses.
    Add it in small portions and stop when the last one stays loose. A generous amount that is
    rinsed well does no harm, and nothing is said of it: what counts is what the cake still holds.
    An agent that is added in several steps is judged at the last of them, by all of it.
    """
    for i, step, facts in case.of(Dry):
        if facts.drying is None or not case.dries_product(i, step):
            continue
        following, before = _next_portion(case, i, step), _earlier_portions(case, i, step)
        if following is not None and following.agent == step.agent:
            continue
        mass = float(facts.drying.mass_g[0]) + _already_there(case, i, step)
        first = case.run.outcomes[before[-1] if before else i].facts.drying or facts.drying
        need = float(first.needed_g[0])
        if mass < TOO_MUCH * max(need, 1.0):
            continue
        target = case.main_target(case.before(i), step.flask)
        held = case.share_in(case.run.end, step.flask, target)
        if held < LEAST_HELD or _binds(case, facts, target):
            continue
        less = replace(step, endpoint="weighed", mass_g=round(1.2 * need, 1))
        yield Breach(step.id, partial(_held_by_cake, mass, need),
                     case.plan.replacing(less).without(*(case.plan.steps[k].id for k in before)))


def _binds(case: Case, facts: Facts, target: str) -> bool:
    """Whether the agent takes a product for itself: less of it is no remedy, nor is a rinse, and
    agent-incompatible says so."""
    bound = facts.drying.bound_product.get(target) if facts.drying else None
    return bound is not None and float(bound[0]) >= LEAST_BOUND * case.available(target)


def _held_by_cake(mass: float, need: float, cost: Cost | None) -> Remark:
    lost = max(cost.lost.nominal, 0.0) if cost else 0.0
    return Remark(
        Strength.ADVICE if lost > MUCH_HELD else Strength.INFORMATION,
        f"{mass:.1f} g of drying agent where about {need:.1f} g would do; the cake keeps "
        f"{percent(lost)} of the product more.",
        "Add small portions until the last one stays loose, and rinse the cake.",
        (Number("agent", mass, "g"), Number("agent needed", need, "g")),
    )
