"""Finding root causes by mending them one at a time.

All rules look at the plan. The first breach by stage and position is taken as a cause and mended;
what other breaches vanish with it were its consequences. The search goes on with the mended plan
until nothing is left to mend. So every cost is measured with the earlier causes already out of
the way (a lost layer does not hide a missing wash), and each cause is charged once. How much is
lost in all, and what no mend brings back, says the ledger (``charges``).

What is said is said about the plan as it was written. Where a fault looks different once others
are out of the way, the finding names those and says so.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace

from ..assessment import Finding
from ..case import Case
from ..rule import RULES, Breach, Cost, Rule, cost_of
from .charges import Explained, explained, priced, unexplained
from .shortfall import Shortfall, shortfall_of

MOST_CAUSES = 10
ABOUT = 0.2
_DIGITS = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Diagnosed:
    """Findings on a plan, and the plan with all that could be mended put right."""

    findings: tuple[Finding, ...]
    mended: Case
    shortfall: Shortfall


@dataclass(frozen=True)
class _Seen:
    rule: Rule
    breach: Breach

    @property
    def key(self) -> tuple[str, str]:
        return self.rule.code, self.breach.step


def breaches(case: Case, rules: Iterable[Rule] | None = None) -> list[_Seen]:
    """The breaches of rules (all of them if none are named) on a plan, causes first: by stage, then
    by position."""
    if not case.plan.steps:
        return []
    position = {s.id: i for i, s in enumerate(case.plan.steps)}
    asked = RULES.values() if rules is None else rules
    seen = [_Seen(r, b) for r in asked for b in r.find(case)]
    return sorted(seen, key=lambda s: (s.rule.stage, position.get(s.breach.step, 999), s.rule.code))


def diagnose_plan(case: Case, *, drying_share: float = 1.0) -> Diagnosed:
    """All findings on a plan, causes charged once, consequences shown with their cause."""
    findings: list[Explained] = []
    known: set[tuple[str, str]] = set()
    seen = breaches(case)
    written = case
    here = as_written = shortfall_of(case)
    draws = case.inventory.count
    # Only what the plan as written shows is held against it: a mend must never accuse.
    first_seen: dict[tuple[str, str], _Seen] = {}
    for one in seen:
        first_seen.setdefault(one.key, one)
    breached = {one.rule.code: one.rule for one in seen}.values()
    trail = [_Stage("", dict(first_seen))]
    for _ in range(MOST_CAUSES):
        cause = next((s for s in seen if s.breach.mended is not None and s.key not in known), None)
        if cause is None:
            break
        known.add(cause.key)
        mended = case.tried(cause.breach.mended)
        if mended is None:
            findings.append(unexplained(_as_written(cause, None, trail), draws))
            continue
        there = shortfall_of(mended)
        cost = cost_of(case, mended)
        remaining = _known_of(breaches(mended, breached), first_seen)
        left = {s.key for s in remaining}
        findings.append(explained(_as_written(cause, cost, trail), here, there))
        here = there
        for other in seen:
            if other.key in left or other.key in known:
                continue
            known.add(other.key)
            # What could not be mended is no consequence of a lesser thing.
            earlier = other.rule.stage < cause.rule.stage
            findings.append(unexplained(
                _as_written(other, None, trail) if earlier
                else _consequence(first_seen[other.key], cause, written), draws))
        case, seen = mended, remaining
        trail.append(_Stage(cause.rule.title, {s.key: s for s in reversed(seen)}))
    for rest in seen:
        if rest.key not in known:
            findings.append(unexplained(_as_written(rest, None, trail), draws))
    return Diagnosed(priced(written, findings, as_written, here, drying_share), case, as_written)


def _known_of(
    seen: list[_Seen], first_seen: dict[tuple[str, str], _Seen]
) -> list[_Seen]:
    """The breaches that the written plan has too. One of a rule at another step than in the written
    plan is the written one, which a mend has moved, where that is not seen any more."""
    here = {one.key for one in seen}
    moved: dict[tuple[str, str], str] = {}
    for code, step in (key for key in first_seen if key not in here):
        news = (s.key for s in seen if s.key[0] == code)
        new = next((key for key in news if key not in {*first_seen, *moved}), None)
        if new is not None:
            moved[new] = step
    found = (replace(one, breach=replace(one.breach, step=moved[one.key]))
             if one.key in moved else one for one in seen)
    return [one for one in found if one.key in first_seen]


@dataclass(frozen=True)
class _Stage:
    """The breaches by key once a cause (its title; "" before the first) was mended too."""

    mended: str
    seen: dict[tuple[str, str], _Seen]


def _as_written(seen: _Seen, cost: Cost | None, trail: list[_Stage]) -> Finding:
    """A finding told about the plan as it was written, or after which mends it looks like this."""
    finding = _finding(seen, cost)
    wordings = [_finding(stage.seen[seen.key], cost) for stage in trail if seen.key in stage.seen]
    if not wordings or _much_the_same(wordings[0], finding):
        first = wordings[0] if wordings else finding
        return replace(finding, message=first.message, change=first.change, numbers=first.numbers)
    names = [
        stage.mended
        for stage, before, after in zip(trail[1:], wordings, wordings[1:], strict=False)
        if not _much_the_same(before, after)
    ]
    return replace(finding, message=f"{_once_mended(names)}, this is left: {finding.message}")


def _once_mended(titles: list[str]) -> str:
    different = list(dict.fromkeys(titles))
    if len(different) != 1:
        return "Once the other faults are mended"
    return f'Once "{different[0]}" is mended'


def _much_the_same(one: Finding, other: Finding) -> bool:
    """Whether two wordings say the same but for the last digits."""
    if _DIGITS.sub("#", one.message + one.change) != _DIGITS.sub("#", other.message + other.change):
        return False
    pairs = zip(_DIGITS.findall(one.message), _DIGITS.findall(other.message), strict=True)
    return all(
        abs(float(a) - float(b)) <= ABOUT * max(abs(float(a)), abs(float(b))) for a, b in pairs
    )


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
