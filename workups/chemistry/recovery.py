"""Recovery by extraction, and how it depends on the number of portions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .measures import is_only_of_others, last_weighings, leading_to_weighed
from .plan import (
    WASTE,
    Add,
    Adjust,
    Collect,
    Dry,
    Extract,
    Filter,
    Parting,
    Plan,
    Separate,
    Strip,
    steps_of,
)
from .run import Run, run_as_far

Array = NDArray[np.float64]

MOST_PORTIONS = 6
LEAST_SHARE = 0.2


def fraction_left(K: float, water_mL: float, organic_mL: float, portions: int) -> float:
    """Textbook limit for constant K: q = (Vaq/(Vaq + K Vorg))^n, dimensionless.

    >>> round(fraction_left(5.0, 50.0, 15.0, 2), 2)
    0.16
    """
    return float((water_mL / (water_mL + K * organic_mL)) ** portions)


@dataclass(frozen=True)
class Stage:
    """The extraction stage of a plan for one target: its first and last step."""

    first: int
    last: int
    steps: tuple[Parting, ...]

    @property
    def extracts(self) -> list[Extract]:
        """Those of its steps that shake with fresh solvent."""
        return steps_of(Extract, self.steps)

    @property
    def portions(self) -> int:
        """Portions over all its steps; what is only parted counts as one."""
        return sum(s.shakes if s.pools_kept else 1 for s in self.steps)


def extraction_stage(run: Run, target: str) -> Stage | None:
    """The steps that take a target out of what it was in.

    These are the extractions of a flask that holds at least a fifth of the target, the separation
    that left the layer they go on with, and all portions that go on with what the one before them
    left, however little is still in it; where nothing is called an extraction, the first
    separation into two layers and those that go on with it. Solvent that only cleans a layer, in
    which the target stays until it is set free or collected, takes nothing out.
    """
    row = run.inventory.index[target]
    available = float(run.start.everywhere(row)[0])
    found: list[tuple[int, Parting]] = []
    for i, outcome in enumerate(run.outcomes):
        step = outcome.step
        if not isinstance(step, Extract | Separate):
            continue
        if isinstance(step, Separate):
            takes = not found
        else:
            before = run.before(i).flasks.get(step.flask)
            held = 0.0 if before is None else float(before.of(row)[0])
            takes = held > LEAST_SHARE * available and not _only_cleans(run, i, step, row, held)
        if takes or (found and _goes_on(run, found[-1], i)):
            found.append((i, step))
    if not found:
        return None
    start = next((k for k, (_, s) in enumerate(found) if isinstance(s, Extract)), 0)
    while start > 0 and _goes_on(run, found[start - 1], found[start][0]):
        start -= 1
    return Stage(found[start][0], found[-1][0], tuple(s for _, s in found[start:]))


def _only_cleans(run: Run, index: int, step: Parting, row: int, held: float) -> bool:
    """Whether a target stays in the layer that is not kept, and the next thing done to that layer
    is to bring it to a pH, to pour something to it, or to collect a solid from it."""
    left = run.outcomes[index].after.flasks.get(step.other_in)
    if left is None or float(left.of(row)[0]) < (1.0 - LEAST_SHARE) * held:
        return False
    onward = (s for _, s in run.flow.after(index, step.other_in) if not s.is_passive)
    first = next(onward, None)
    return isinstance(first, Add | Adjust | Collect)


def _goes_on(run: Run, last: tuple[int, Parting], index: int) -> bool:
    """Whether a parting takes a further portion to what another left, with nothing in between
    that isolates a product or changes the pH."""
    at, before = last
    between = [o.step for o in run.outcomes[at + 1 : index]]
    return (
        run.outcomes[index].step.acts_on == before.other_in
        and not any(isinstance(s, Adjust | Dry | Filter | Strip) for s in between))


def recovery(run: Run, target: str, stage: Stage) -> Array:
    """Share of a target, of what was there before the first extraction, that the kept layers
    hold after the last one, wherever they were poured meanwhile, (N,)."""
    row = run.inventory.index[target]
    before = np.maximum(
        run.before(stage.first).everywhere(row) - run.before(stage.first).air[row], 1e-12
    )
    after = run.outcomes[stage.last].after
    kept_names = _kept_in(run, target, stage) - {WASTE}
    in_play = [f for n, f in after.flasks.items() if n in kept_names]
    kept = sum((f.of(row) for f in in_play), np.zeros(run.inventory.count))
    return np.asarray(kept / before)


def _goes_on_in(step: Parting, line: frozenset[str]) -> str:
    """The flask of the two that the plan goes on with, whichever it calls kept."""
    renamed = step.other_in in line and step.keep_in not in line
    return step.other_in if renamed else step.keep_in


def _left_in(step: Parting, line: frozenset[str]) -> str:
    return step.keep_in if _goes_on_in(step, line) == step.other_in else step.other_in


def _kept_in(run: Run, target: str, stage: Stage) -> set[str]:
    """Flasks that the kept layers are in after the last extraction, and what washes took out of
    them meanwhile: that had been extracted too. Where nothing is weighed yet, or only another
    target, what the steps call kept."""
    line = [leading.flasks for leading in leading_to_weighed(run, target)] if (
        last_weighings(run) and not is_only_of_others(run, target)) else [frozenset[str]()]
    line += [line[-1]] * (len(run.outcomes) + 1 - len(line))
    left = {_left_in(step, line[i + 1]) for i, step, _ in run.of(Parting) if step in stage.steps}
    names: set[str] = set()
    for i, outcome in enumerate(run.outcomes[stage.first : stage.last + 1], stage.first):
        step = outcome.step
        if isinstance(step, Parting) and step in stage.steps:
            names.add(_goes_on_in(step, line[i + 1]))
        elif names.intersection(step.takes()):
            names.update(set(step.destinations()) - left)
    return names


def curve(
    run: Run, plan: Plan, target: str, stage: Stage, *, same_total: bool
) -> tuple[Array, ...]:
    """Recovery with 1 to 6 portions, at the same total or the same portion volume, (N,) each.

    The stage's extractions are replaced by one with n portions; nothing after it is carried out.
    None where one of them cannot be computed.
    """
    if not stage.extracts:
        return ()
    first = stage.extracts[0]
    total = sum(s.volume_mL * s.portions for s in stage.extracts)
    results = []
    for n in range(1, MOST_PORTIONS + 1):
        volume = total / n if same_total else first.volume_mL
        step = replace(first, portions=n, volume_mL=volume)
        found = recovery_with(run, plan, target, stage, step)
        if found is None:
            return ()
        results.append(found)
    return tuple(results)


def recovery_with(
    run: Run, plan: Plan, target: str, stage: Stage, step: Extract
) -> Array | None:
    """Recovery with one extraction of the stage as given here and nothing carried out after it,
    (N,); None where it cannot be computed."""
    at = plan.index(step.id)
    earlier = stage.steps[: [s.id for s in stage.steps].index(step.id)]
    changed, stopped = run_as_far(run, Plan((*plan.steps[:at], step)))
    if stopped is not None:
        return None
    return recovery(changed, target, Stage(stage.first, at, (*earlier, step)))
