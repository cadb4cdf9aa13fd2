"""Finding root causes by mending them one at a time.

All rules look at the plan. The first breach by stage and position is taken as a cause and mended;
what other breaches vanish with it were its consequences. The search goes on with the mended plan
until nothing is left to mend. So every cost is measured with the earlier causes already out of
the way (a lost layer does not hide a missing wash), and each cause is charged once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from .assessment import Finding
from .case import Case
from .rule import RULES, Breach, Cost, Rule, cost_of

MOST_CAUSES = 10


@dataclass(frozen=True)
class Diagnosed:
    """Findings on a plan, and the plan with all that could be mended put right."""

    findings: tuple[Finding, ...]
    mended: Case


@dataclass(frozen=True)
class _Seen:
    rule: Rule
    breach: Breach

    @property
    def key(self) -> tuple[str, str]:
        return self.rule.code, self.breach.step


def breaches(case: Case) -> list[_Seen]:
    """All breaches on a plan, causes first: by stage, then by position."""
    position = {s.id: i for i, s in enumerate(case.plan.steps)}
    seen = [_Seen(r, b) for r in RULES.values() for b in r.find(case)]
    return sorted(seen, key=lambda s: (s.rule.stage, position.get(s.breach.step, 999), s.rule.code))


def diagnose_plan(case: Case) -> Diagnosed:
    """All findings on a plan, causes charged once, consequences shown with their cause."""
    findings: list[Finding] = []
    known: set[tuple[str, str]] = set()
    seen = breaches(case)
    # Only what the plan as written shows is held against it: a mend must never accuse.
    first_seen = {s.key for s in seen}
    for _ in range(MOST_CAUSES):
        cause = next((s for s in seen if s.breach.mended is not None and s.key not in known), None)
        if cause is None:
            break
        known.add(cause.key)
        mended = case.tried(cause.breach.mended)
        if mended is None:
            findings.append(_finding(cause, None))
            continue
        cost = cost_of(case, mended)
        remaining = [s for s in breaches(mended) if s.key in first_seen]
        left = {s.key for s in remaining}
        findings.append(_finding(cause, cost))
        for other in seen:
            if other.key in left or other.key in known:
                continue
            known.add(other.key)
            # What could not be mended is no consequence of a lesser thing.
            earlier = other.rule.stage < cause.rule.stage
            findings.append(
                _finding(other, None) if earlier else _consequence(other, cause, case))
        case, seen = mended, remaining
    for rest in seen:
        if rest.key not in known:
            findings.append(_finding(rest, None))
    return Diagnosed(tuple(findings), case)


def _finding(seen: _Seen, cost: Cost | None) -> Finding:
    rule, remark = seen.rule, seen.breach.remark(cost)
    numbers = remark.numbers + (cost.numbers() if cost is not None else ())
    return Finding(
        rule.code,
        rule.check,
        remark.strength,
        seen.breach.step,
        remark.message,
        remark.change,
        rule.text,
        rule.source,
        numbers,
        cause=f"{rule.code}:{seen.breach.step}",
        charged=remark.score_loss > 0,
        score_loss=remark.score_loss,
    )


def _consequence(seen: _Seen, cause: _Seen, case: Case) -> Finding:
    mended = case.tried(seen.breach.mended)
    finding = _finding(seen, cost_of(case, mended) if mended is not None else None)
    return replace(
        finding, cause=f"{cause.rule.code}:{cause.breach.step}", charged=False, score_loss=0.0
    )
