"""The extraction check: recovery as simulated, against the goal of the exercise."""

from __future__ import annotations

from dataclasses import dataclass, replace

from workups.chemistry.plan import Extract
from workups.chemistry.recovery import Stage, extraction_stage, recovery, recovery_with

from .case import Case
from .rule import band


@dataclass(frozen=True)
class PlanRecovery:
    """Recovery of one target by a plan's extraction, 0..1, with its band and goal."""

    case: Case
    target: str
    stage: Stage
    nominal: float
    low: float
    high: float
    goal: float

    @property
    def reached(self) -> bool:
        """Enough: the upper edge of the band reaches the goal (or the fixed count is met)."""
        fixed = self.case.exercise.fixed_portions
        if fixed is not None:
            done = sum(s.portions if isinstance(s, Extract) else 1 for s in self.stage.steps)
            return done >= fixed
        return self.high >= self.goal

    def with_portions(self, portions: int) -> float:
        """Nominal recovery if the first extraction had this many portions of its own size."""
        first = next((s for s in self.stage.steps if isinstance(s, Extract)), None)
        if first is None:
            return self.nominal
        step = replace(first, portions=portions)
        found = recovery_with(self.case.run, self.case.plan, self.target, self.stage, step)
        return float(found[0])


def plan_recovery(case: Case, target: str) -> PlanRecovery | None:
    """Recovery of a target by the plan's extraction; None where the plan extracts nothing."""
    stage = extraction_stage(case.run, target)
    if stage is None:
        return None
    found = band(recovery(case.run, target, stage))
    goal = next(t.recovery_goal for t in case.exercise.setup.targets if t.substance == target)
    return PlanRecovery(case, target, stage, found.nominal, found.low, found.high, goal)
