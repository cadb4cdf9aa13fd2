"""A plan carried out once for each value of a choice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from workups.chemistry.components import CARBON_DIOXIDE
from workups.chemistry.kinds import bottle
from workups.chemistry.plan import Dry, Filter, Plan, Step, Wash
from workups.chemistry.run import CANNOT, Run, continue_run
from workups.exercise.exercise import Exercise
from workups.exercise.public import public_exercise
from workups.grading.assessment import StepReport
from workups.grading.modelrun import model_run
from workups.grading.reports import step_reports
from workups.words.material_facts import is_bulk, substance_word

from .ideas import Idea

# What the least value that is enough may still miss.
ENOUGH = 0.01
_LEAST_MMOL, _WORTH_FOLLOWING = 0.05, 0.1
_WATER = "water"


@dataclass(frozen=True)
class Line:
    """One share, 0..1, at each value of the choice."""

    name: str
    shares: tuple[float, ...]

    @property
    def varies(self) -> bool:
        """Whether the choice makes a difference worth telling."""
        return max(self.shares) - min(self.shares) >= ENOUGH


@dataclass(frozen=True)
class Trial:
    """What comes of each value. The first line is what is asked about; ``planned`` is the plan's
    own value, None where it has none."""

    idea: Idea
    values: tuple[float, ...]
    lines: tuple[Line, ...]
    planned: float | None

    @property
    def answers(self) -> tuple[float, ...]:
        """The values that answer the question."""
        shares = self.lines[0].shares
        if self.idea.is_peak:
            best = max(shares)
            return tuple(
                v for v, s in zip(self.values, shares, strict=True) if s >= best - ENOUGH)
        steps = [abs(b - a) for a, b in pairwise(shares)]
        first = next(
            (i for i in range(len(shares)) if all(gap < ENOUGH for gap in steps[i:])),
            len(shares) - 1)
        return (self.values[first],)


def try_out(
    exercise: Exercise, plan: Plan, step_id: str, idea: Idea, *, seed: int, is_released: bool
) -> Trial | None:
    """A plan carried out for each value, up to where its effect shows; nominal values, of the
    public exercise unless the report is released. None where nothing is to be seen: nothing of
    what is asked about is in the flask, or no value can be carried out.

    Raises what carrying out the steps before raises.
    """
    known = exercise if is_released else public_exercise(exercise)
    at = plan.index(step_id)
    until = _shows_at(plan, at)
    before = continue_run(model_run(known, seed, 1), Plan(plan.steps[:at]))
    tried = []
    for value in idea.values(plan.steps[at]):
        steps = (idea.changed(plan.steps[at], value), *plan.steps[at + 1:until + 1])
        try:
            tried.append((value, continue_run(before, Plan((*plan.steps[:at], *steps)))))
        except CANNOT:
            continue
    lines = [line for line in _lines(known, plan, at, until, [run for _, run in tried]) if line]
    if not lines or (idea.is_peak and not any(line.varies for line in lines)):
        return None
    return Trial(
        idea, tuple(value for value, _ in tried), tuple(lines), idea.planned(plan.steps[at]))


def _shows_at(plan: Plan, at: int) -> int:
    """Position of the step after which the effect of a step shows: a shake at once, a pH or a
    drying agent where the flask is next poured out."""
    step = plan.steps[at]
    if step.layers():
        return at
    return next(
        (i for i in range(at + 1, len(plan.steps))
         if step.acts_on in plan.steps[i].takes() and plan.steps[i].pours()), at)


def _lines(
    exercise: Exercise, plan: Plan, at: int, until: int, runs: Sequence[Run]
) -> list[Line | None]:
    told = [step_reports(run) for run in runs]
    if not told:
        return []
    last, step = plan.steps[until], plan.steps[at]
    targets = [_target_line(exercise, t.substance, told, at, step, last)
               for t in exercise.setup.targets]
    if isinstance(step, Dry):
        return [_water_left(runs, at), *(targets if isinstance(last, Filter) else [])]
    return [*_washed_out(exercise, told, at, step), *targets]


def _target_line(
    exercise: Exercise, target: str, told: Sequence[Sequence[StepReport]], at: int, step: Step,
    last: Step,
) -> Line | None:
    """Share of what the flask held of a product that the plan goes on with."""
    held = 1.0 if at == 0 else _share(told[0][at - 1], target, step.takes())
    if held < _WORTH_FOLLOWING:
        return None
    goes_on = tuple(last.carries_on_in() or last.takes())
    had = 0.0 if at == 0 else _share(
        told[0][at - 1], target, set(goes_on).difference(step.takes()))
    shares = tuple(
        min(1.0, max(0.0, (_share(reports[-1], target, goes_on) - had) / held))
        for reports in told)
    name = substance_word(target, exercise.setup.tables)
    return Line(f"{name} in ‘{goes_on[0]}’", shares)


def _share(report: StepReport, target: str, places: object) -> float:
    assert isinstance(places, tuple | set | frozenset)
    return sum(s.share for s in report.trail if s.target == target and s.place in places)


def _water_left(runs: Sequence[Run], at: int) -> Line | None:
    """Share of the water in a layer that a drying agent leaves there."""
    shares = []
    for run in runs:
        drying = run.outcomes[at].facts.drying
        if drying is None or float(drying.water_before_mmol[0]) < _LEAST_MMOL:
            return None
        shares.append(
            max(0.0, float(drying.water_after_mmol[0]) / float(drying.water_before_mmol[0])))
    return Line("water left in the layer", tuple(shares))


def _washed_out(
    exercise: Exercise, told: Sequence[Sequence[StepReport]], at: int, step: Step
) -> list[Line]:
    """What a wash leaves of what it takes out most of: water for brine, else the dissolved
    substance of which most mmol go."""
    if at == 0 or not isinstance(step, Wash):
        return []
    is_brine = bottle(step.material, exercise.setup).is_brine
    before, kept = _held(told[0][at - 1], step.takes()), step.carries_on_in()
    products = {t.substance for t in exercise.setup.targets}
    tables = exercise.setup.tables
    after = [_held(reports[-1], kept) for reports in told]
    gone = {
        key: mmol - after[-1].get(key, 0.0) for key, mmol in before.items()
        if mmol >= _LEAST_MMOL and (
            key == _WATER if is_brine else
            key not in products and key != CARBON_DIOXIDE and not is_bulk(key, tables))}
    most = max(gone, key=lambda key: gone[key], default="")
    if not most or gone[most] < _LEAST_MMOL:
        return []
    shares = tuple(min(1.0, held.get(most, 0.0) / before[most]) for held in after)
    return [Line(f"{substance_word(most, tables)} left in the layer", shares)]


def _held(report: StepReport, flasks: tuple[str, ...]) -> dict[str, float]:
    """Dissolved in the organic layer of some flasks [mmol]."""
    held: dict[str, float] = {}
    for phase in report.phases:
        if phase.flask in flasks and phase.phase == "organic":
            for key, mmol in phase.amounts_mmol:
                held[key] = held.get(key, 0.0) + mmol
    return held
