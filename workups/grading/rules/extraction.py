"""The extraction check: recovery as simulated, against the goal of the exercise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from workups.chemistry.recovery import Stage, extraction_stage, recovery, recovery_with

from ..case import Case
from ..rule import band

LITTLE_MISSED = 0.02


@dataclass(frozen=True)
class PlanRecovery:
    """Recovery of one target by a plan's extraction, 0..1, with its band and goal; ``missed`` is
    the mean over the draws of what is short of the goal."""

    case: Case
    target: str
    stage: Stage
    nominal: float
    low: float
    high: float
    goal: float
    missed: float

    @property
    def reached(self) -> bool:
        """Enough: the goal is reached, or missed by next to nothing over all draws (or the fixed
        count is met). An uncertain constant does not hide a shortfall that is likely."""
        fixed = self.case.exercise.fixed_portions
        if fixed is not None:
            return self.portions >= fixed
        return self.nominal >= self.goal or self.missed < LITTLE_MISSED

    @property
    def portions_missing(self) -> float:
        """Share of the fixed number of portions that is not done, 0..1; 0 where a goal counts."""
        fixed = self.case.exercise.fixed_portions
        return 0.0 if not fixed else max(0.0, 1.0 - self.portions / fixed)

    @property
    def portions(self) -> int:
        """Portions of the extraction, over all its steps."""
        return self.stage.portions

    def with_portions(self, portions: int) -> float:
        """Nominal recovery if the first extraction had this many portions of its own size."""
        if not self.stage.extracts:
            return self.nominal
        step = replace(self.stage.extracts[0], portions=portions)
        found = recovery_with(self.case.run, self.case.plan, self.target, self.stage, step)
        return self.nominal if found is None else float(found[0])


def plan_recovery(case: Case, target: str) -> PlanRecovery | None:
    """Recovery of a target by the plan's extraction; None where the plan extracts nothing."""
    stage = extraction_stage(case.run, target)
    if stage is None:
        return None
    share = recovery(case.run, target, stage)
    found = band(share)
    goal = next(t.recovery_goal for t in case.exercise.setup.targets if t.substance == target)
    missed = float(np.mean(np.maximum(goal - share, 0.0)))
    return PlanRecovery(case, target, stage, found.nominal, found.low, found.high, goal, missed)
