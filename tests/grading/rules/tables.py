"""Tables of plans for a rule: plans that break it, plans that keep it, plans that only look wrong.

A plan that breaks a rule must be found by it; the other two must not be held against anyone:
found with no more than information, and without any loss of marks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from workups.grading import rules as _rules  # noqa: F401 (registers all rules)
from workups.grading.assessment import Strength
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.rule import RULES, Breach, Cost, Remark, cost_of

from .labs import Lab

DRAWS = 24
Labs = Mapping[str, Callable[[], Lab]]


@dataclass(frozen=True)
class Table:
    """Plans for one rule, by a name that says what they are."""

    breaks: Labs
    keeps: Labs = field(default_factory=dict)
    looks_wrong: Labs = field(default_factory=dict)


Tables = Mapping[str, Table]


@dataclass(frozen=True)
class Found:
    """A breach as it would be worded, with its cost and the case it was found in."""

    breach: Breach
    remark: Remark
    cost: Cost | None
    case: Case

    @property
    def fair(self) -> bool:
        """Whether nothing is held against the plan."""
        light = self.remark.strength in (Strength.INFORMATION, Strength.ADVICE)
        return light and self.remark.score_loss == 0.0


def case_of(lab: Lab, draws: int = DRAWS) -> Case:
    """The lab's plan, carried out."""
    run = model_run(lab.exercise, 1, draws)
    return Case(lab.exercise, lab.exercise.model_plan, run).changed(lab.plan)


def found(code: str, lab: Lab, draws: int = DRAWS) -> list[Found]:
    """Every breach of a rule, worded with its cost."""
    case = case_of(lab, draws)
    results = []
    for breach in RULES[code].find(case):
        mended = case.tried(breach.mended)
        cost = cost_of(case, mended) if mended is not None else None
        results.append(Found(breach, breach.remark(cost), cost, case))
    return results


def _rows(tables: Tables, which: str) -> Iterator[Any]:
    for code, table in tables.items():
        for name, lab in getattr(table, which).items():
            yield pytest.param(code, lab, id=f"{code}: {name}")


def breaking(tables: Tables) -> list[Any]:
    """Parameters (code, lab) of the plans that break a rule."""
    return list(_rows(tables, "breaks"))


def keeping(tables: Tables) -> list[Any]:
    """Parameters (code, lab) of the plans that keep a rule, or only look wrong."""
    return [*_rows(tables, "keeps"), *_rows(tables, "looks_wrong")]


def assert_found(code: str, make: Callable[[], Lab]) -> None:
    """The rule finds the plan, and what it mends with is not found any more."""
    lab = make()
    hits = found(code, lab)
    assert hits, f"{code} finds nothing"
    first = hits[0]
    assert first.remark.message
    assert first.remark.change
    if first.breach.mended is None:
        return
    mended = first.case.tried(first.breach.mended)
    assert mended is not None, "the mended plan cannot be carried out"
    again = [b for b in RULES[code].find(mended) if b.step == first.breach.step]
    assert not again, "the mend leaves the fault"


def assert_not_held_against(code: str, make: Callable[[], Lab]) -> None:
    """The rule says nothing about the plan, or nothing that is held against anyone."""
    unfair = [f.remark for f in found(code, make()) if not f.fair]
    assert unfair == []
