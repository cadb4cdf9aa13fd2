"""The bench part of the drying check: what was recorded against the computed water load."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.plan import Dry
from workups.chemistry.readings import DryingRecord, Readings

from .assessment import Finding, Number, Strength
from .case import Case

Array = NDArray[np.float64]

NEUTRAL = 1.0
NOT_RECORDED = "bench part not recorded: counted as neutral"
WHY = (
    "The agent needed follows from the water that the layer holds after its last wash, "
    "dissolved and as droplets. What it looked like is the best sign at the bench: a loose "
    "rest and a clear liquid."
)
SOURCE = "hydrate staircase; looks from the state of the agent (common practice)"


def bench_drying(case: Case, readings: Readings) -> tuple[float, tuple[Finding, ...], str]:
    """Score 0..1 of the recorded drying, findings, and a note where nothing was recorded.

    Full where the agent reaches the lower end of the need; short of it by share. A look that
    does not fit the computed one is shown as a question and not charged.
    """
    records = {r.step: r for r in readings.drying}
    scores: list[float] = []
    findings: list[Finding] = []
    for _, step, facts in case.steps():
        record = records.get(step.id)
        if not isinstance(step, Dry) or facts.drying is None or record is None:
            continue
        need = np.asarray(facts.drying.needed_g) - case.inventory.practice["loose_g"]
        low = float(np.percentile(need, 5))
        if record.agent_mass_g is not None:
            score = (
                1.0
                if record.agent_mass_g >= low
                else max(0.0, record.agent_mass_g / max(low, 1e-9))
            )
            scores.append(score)
            if score < 1.0:
                findings.append(_short(step, record.agent_mass_g, need, score))
        findings.extend(_look(step, record, facts.drying.agent_look))
    if not scores:
        return NEUTRAL, tuple(findings), NOT_RECORDED
    return float(np.mean(scores)), tuple(findings), ""


def _short(step: Dry, mass_g: float, need: Array, score: float) -> Finding:
    low, high = (float(v) for v in np.percentile(need, [5, 95]))
    return Finding(
        "bench-too-little-agent",
        "drying",
        Strength.ADVICE,
        step.id,
        f"{mass_g:g} g of agent was recorded; the water load asks for {low:.1f} to {high:.1f} g.",
        "Add portions until the last one stays loose.",
        WHY,
        SOURCE,
        (Number("agent needed", float(need[0]), "g", low, high),),
        cause=f"bench-too-little-agent:{step.id}",
        charged=True,
        score_loss=round(1.0 - score, 6),
    )


def _look(step: Dry, record: DryingRecord, computed: str) -> list[Finding]:
    if not record.agent_look or record.agent_look == computed:
        return []
    return [
        Finding(
            "look-differs",
            "drying",
            Strength.INFORMATION,
            step.id,
            f"The agent was recorded as {record.agent_look}; with the recorded amounts it should "
            f"look {computed}.",
            "Was more or less agent used than is written, or was there water under the solvent?",
            WHY,
            SOURCE,
            cause=f"look-differs:{step.id}",
            charged=False,
            question=True,
        )
    ]
