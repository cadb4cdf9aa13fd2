"""The bench part of the drying check: what was recorded against the computed water load.

Each use of a drying agent is scored, and the mean counts. A mass that reaches the lower end of the
need is full marks, half of that end where the agent was seen free-flowing in a clear liquid; short
of it the score is the share. The eye is the judge of the end: an agent not seen loose, or a liquid
not seen clear, where the recorded amounts should have left them so, costs a fifth each whatever the
mass (the bottle may be an old one). What is on record earns at least two fifths, and what is not on
record earns that and no more: a blank never pays. A planned drying that was skipped earns nothing.
Where no agent was planned and none was used there is nothing to judge, and the plan part counts
alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.drying import CLEAR, LOOSE
from workups.chemistry.facts import DryFacts
from workups.chemistry.plan import Dry, steps_of
from workups.chemistry.readings import DryingRecord, Readings
from workups.words.numbers import fixed, joined

from ..assessment import Finding, Number, Strength
from ..case import Case

Array = NDArray[np.float64]

# What the poorest record earns, and the share of the need from which on the eye's word holds
# (common practice, no source).
LEAST, ENOUGH_IF_LOOSE = 0.4, 0.5
# What a sign that the drying was stopped before its end costs (common practice, no source).
A_DOUBT = 0.2
PLAN_ALONE = "the plan part alone: nothing to judge at the bench"
NOT_YET = "the plan part alone: no readings yet"
WHY = (
    "The agent needed follows from the water that the layer holds after its last wash, "
    "dissolved and as droplets. What it looked like is the best sign at the bench: a loose "
    "rest and a clear liquid. What was not written down cannot be judged, and earns what the "
    "poorest record earns."
)
SOURCE = "hydrate staircase; looks from the state of the agent (common practice)"


def bench_drying(case: Case, readings: Readings) -> tuple[float | None, tuple[Finding, ...], str]:
    """Score 0..1 of the recorded drying (None: nothing to judge), findings, and a note.

    ``case`` is the workup as it was done. A look that does not fit the computed one is shown as
    a question and not charged.
    """
    records = {r.step: r for r in readings.drying}
    scores: list[float] = []
    findings: list[Finding] = []
    for _, step, facts in case.of(Dry):
        if facts.drying is None:
            continue
        record = records.get(step.id, DryingRecord(step.id))
        need = np.asarray(facts.drying.needed_g) - case.inventory.practice["loose_g"]
        enough = _of_amount(record, need)
        doubts = _doubts(record, facts.drying)
        scores.append(max(LEAST, enough - A_DOUBT * doubts))
        findings.extend(_amount(step, record, need, enough))
        findings.extend(_look(step, record, facts.drying, enough - scores[-1]))
    if not scores:
        missed = steps_of(Dry, (d.step for d in readings.steps if d.mark == "skipped"))
        if not missed:
            return None, (), PLAN_ALONE
        return 0.0, (_skipped(missed[-1]),), ""
    return float(np.mean(scores)), tuple(findings), ""


def _doubts(record: DryingRecord, computed: DryFacts) -> int:
    """How many signs there are that the drying was stopped before its end, 0 to 2: an agent not
    seen loose and a liquid not seen clear, where the recorded amounts should have made them so. A
    blank is no better than the poorer look. None without a mass, which says it all."""
    if record.agent_mass_g is None:
        return 0
    return (record.agent_look != LOOSE == computed.agent_look) + (
        record.liquid_look != CLEAR == computed.liquid_look)


def _of_amount(record: DryingRecord, need: Array) -> float:
    if record.agent_mass_g is None:
        return LEAST
    enough = float(np.percentile(need, 5))
    if record.agent_look == LOOSE and record.liquid_look == CLEAR:
        enough *= ENOUGH_IF_LOOSE
    return min(1.0, max(LEAST, record.agent_mass_g / max(enough, 1e-9)))


def _amount(step: Dry, record: DryingRecord, need: Array, score: float) -> list[Finding]:
    if record.agent_mass_g is None:
        return [_not_recorded(step, 1.0 - score)]
    return [_short(step, record.agent_mass_g, need, score)] if score < 1.0 else []


def _finding(
    code: str, step: Dry, message: str, change: str, lost: float, *numbers: Number
) -> Finding:
    return Finding(
        code,
        "drying",
        Strength.ADVICE,
        step.id,
        message,
        change,
        WHY,
        SOURCE,
        numbers,
        cause=f"{code}:{step.id}",
        charged=True,
        score_loss=round(lost, 6),
    )


def _not_recorded(step: Dry, lost: float) -> Finding:
    return _finding(
        "drying-not-recorded",
        step,
        "No mass of drying agent is on record.",
        "Weigh the agent, or the bottle before and after, and write down the mass and the look.",
        lost,
    )


def _skipped(step: Dry) -> Finding:
    return _finding(
        "drying-skipped",
        step,
        "The drying that was planned was skipped, and no other agent was used.",
        "Dry the layer before the solvent goes, or say what took the water out.",
        1.0,
    )


def _short(step: Dry, mass_g: float, need: Array, score: float) -> Finding:
    low, high = (float(v) for v in np.percentile(need, [5, 95]))
    return _finding(
        "bench-too-little-agent",
        step,
        f"{mass_g:g} g of agent was recorded; the water load asks for {fixed(low, 1)} to "
        f"{fixed(high, 1)} g.",
        "Add portions until the last one stays loose.",
        1.0 - score,
        Number("agent needed", float(need[0]), "g", low, high),
    )


def _look(
    step: Dry, record: DryingRecord, computed: DryFacts, lost: float
) -> Iterator[Finding]:
    """What does not look as it should with the recorded amounts, or was not looked at."""
    seen = [f"the {what} was recorded as {was}" for what, was, should in (
        ("agent", record.agent_look, computed.agent_look),
        ("liquid", record.liquid_look, computed.liquid_look)) if was and was != should]
    if seen:
        said = joined(seen)
        yield replace(_finding(
            "look-differs",
            step,
            f"{said[0].upper()}{said[1:]}; with the recorded amounts they should look "
            f"{computed.agent_look} and {computed.liquid_look}."
            + (" By what you saw the drying was stopped before its end." if lost > 0 else ""),
            "Was more or less agent used than is written, or was there water under the solvent? "
            "The eye decides: add portions until the last one stays loose.",
            lost,
        ), strength=Strength.ADVICE if lost > 0 else Strength.INFORMATION, question=True,
            charged=lost > 0)
    elif lost > 0:
        yield _finding(
            "look-not-recorded",
            step,
            "The mass of drying agent is on record, and not all of what was seen in the end.",
            "Write down whether the last portion stayed loose and the liquid was clear: a mass "
            "alone does not show that it was enough.",
            lost,
        )
