"""Rules about brine: last, and worth it where the solvent holds much water."""

from __future__ import annotations

from collections.abc import Iterator

from workups.chemistry.kinds import needs_brine
from workups.chemistry.plan import Dry, Extract, Parting, Wash
from workups.chemistry.run import Outcome
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import WORTH_SHOWING, Breach, Cost, Remark, Words, rule
from .contents import on_bench, wash_chains
from .rewriting import wash_moved_after

say = Words("brine")
WORTH_IT, BRINE_ML = 1.15, 15.0


@rule("brine-not-last", check="order", stage=3)
def brine_not_last(case: Case) -> Iterator[Breach]:
    """A wash before a later brine is fine, and so is a solvent that holds little water."""
    if case.exercise.choice("brine") == "free":
        return
    for washes in wash_chains(case):
        brines = [(i, s) for i, s in washes if case.is_brine(s.material)]
        if not brines or washes[-1] == brines[-1] or _solvent_needs_no_brine(case, *brines[-1]):
            continue
        brine = brines[-1][1]
        mended = wash_moved_after(case.plan, brine, washes[-1][1])
        charged = case.exercise.choice("brine") != "advised"

        def undone(cost: Cost | None, loss: float = 0.1 if charged else 0.0) -> Remark:
            more = cost.foreign.nominal if cost else 0.0
            wording = "with-more" if more > WORTH_SHOWING else ""
            said = say("brine-not-last", wording, more=percent(more))
            return Remark(Strength.ADVICE, *said, score_loss=loss)

        yield Breach(brine.id, undone, mended)


def _solvent_needs_no_brine(case: Case, index: int, step: Parting) -> bool:
    flask = case.after(index).flasks.get(step.keep_in)
    if flask is None:
        return False
    inv = case.inventory
    volumes = {
        s: float(flask.organic[inv.index[s], 0] * inv.molar_volume[inv.index[s]])
        for s in inv.solvents
    }
    return not needs_brine(volumes, inv.tables)


@rule("no-brine", check="order", stage=5)
def no_brine(case: Case) -> Iterator[Breach]:
    """For information: what it costs is agent. Silent below ``WORTH_IT`` times the agent."""
    brine = next(iter(on_bench(case, case.is_brine)), None)
    if case.exercise.choice("brine") == "free" or brine is None:
        return
    chains: list[list[tuple[int, Parting]]] = [[*c] for c in wash_chains(case)]
    judged: set[str] = set()
    for washes in (*chains, *_unwashed(case)):
        at, last = washes[-1]
        dry = next(iter(case.run.flow.of(Dry, at, last.keep_in)), None)
        salted = any(case.is_brine(key) for _, s in washes for key in s.materials())
        if dry is None or dry.id in judged or salted or _in_water(case, dry):
            continue
        if _solvent_needs_no_brine(case, at, last):
            continue
        judged.add(dry.id)
        yield from _without_brine(case, at, last, dry, brine)


def _unwashed(case: Case) -> Iterator[list[tuple[int, Parting]]]:
    """Solvent layers with product that an extraction gives and no wash follows."""
    for i, step, _ in case.of(Extract):
        if case.is_aqueous(step.material):
            continue
        washed = any(case.run.flow.of(Wash, i, step.keep_in))
        if not washed and case.holds_product(case.after(i), step.keep_in):
            yield [(i, step)]


def _without_brine(case: Case, at: int, last: Parting, dry: Dry, brine: str) -> Iterator[Breach]:
    step = Wash(
        id=case.plan.free_id("brine-added"),
        flask=last.keep_in,
        material=brine,
        volume_mL=last.volume_mL if isinstance(last, Wash) else BRINE_ML,
        keep=last.keep,
        keep_in=last.keep_in,
        other_in="brine",
    )
    plan = case.plan.inserting(at + 1, step)
    dried = case.outcome_in(plan, dry.id)
    if dried is None:
        return
    here, there = _agent_needed(case.run.outcome(dry.id)), _agent_needed(dried)
    mended = case.tried(plan) if here >= WORTH_IT * there else None
    if mended is None:
        return
    yield Breach(
        dry.id,
        Remark(
            Strength.INFORMATION,
            *say("no-brine", times=here / max(there, 0.01)),
            (
                Number("agent to a loose rest", here, "g"),
                Number("agent to a loose rest after brine", there, "g"),
            ),
        ),
        mended.plan,
    )


def _in_water(case: Case, dry: Dry) -> bool:
    """Whether the agent goes into a water layer, which no brine dries."""
    facts = case.run.outcome(dry.id).facts.drying
    return facts is not None and facts.wrong_layer


def _agent_needed(dried: Outcome) -> float:
    facts = dried.facts.drying
    return float(facts.needed_g[0]) if facts is not None else 0.0
