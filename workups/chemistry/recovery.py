"""Recovery by extraction, and how it depends on the number of portions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .plan import (
    WASTE,
    Add,
    Adjust,
    Collect,
    Cool,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Separate,
    Stand,
    Strip,
    Test,
)
from .run import Run, continue_run

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


def extraction_stage(run: Run, target: str) -> Stage | None:
    """The steps that take a target out of what it was in.

    These are the extractions (or, where there are none, the first separation into two layers)
    of a flask that holds at least a fifth of the target, and those that go on with the layer
    which an extraction before them left, however little is still in it. Solvent that only cleans
    a layer, in which the target stays until it is set free or collected, takes nothing out.
    """
    row = run.inventory.index[target]
    available = float(run.start.everything()[row, 0])
    found: list[tuple[int, Parting]] = []
    for i, outcome in enumerate(run.outcomes):
        step = outcome.step
        if isinstance(step, Extract) or (isinstance(step, Separate) and not found):
            before = run.before(i).flasks.get(step.flask)
            held = 0.0 if before is None else float(before.total()[row, 0])
            takes = held > LEAST_SHARE * available and not _only_cleans(run, i, step, row, held)
            if takes or _goes_on(run, found, i):
                found.append((i, step))
    extracts = [f for f in found if isinstance(f[1], Extract)] or found[:1]
    if not extracts:
        return None
    return Stage(extracts[0][0], extracts[-1][0], tuple(s for _, s in extracts))


def _only_cleans(run: Run, index: int, step: Parting, row: int, held: float) -> bool:
    """Whether a target stays in the layer that is not kept, and the next thing done to that layer
    is to bring it to a pH, to pour something to it, or to collect a solid from it."""
    left = run.outcomes[index].after.flasks.get(step.other_in)
    if left is None or float(left.total()[row, 0]) < (1.0 - LEAST_SHARE) * held:
        return False
    onward = (o.step for o in run.outcomes[index + 1:]
              if getattr(o.step, "flask", "") == step.other_in)
    first = next((s for s in onward if not isinstance(s, Cool | Label | Stand | Test)), None)
    return isinstance(first, Add | Adjust | Collect)


def _goes_on(run: Run, found: list[tuple[int, Parting]], index: int) -> bool:
    """Whether an extraction takes a further portion to what the one before it left, with nothing
    in between that isolates a product or changes the pH."""
    if not found:
        return False
    last, before = found[-1]
    between = [o.step for o in run.outcomes[last + 1 : index]]
    return isinstance(before, Extract) and (
        getattr(run.outcomes[index].step, "flask", "") == before.other_in
        and not any(isinstance(s, Adjust | Dry | Filter | Strip) for s in between))


def recovery(run: Run, target: str, stage: Stage) -> Array:
    """Share of a target, of what was there before the first extraction, that the kept layers
    hold after the last one, (N,)."""
    row = run.inventory.index[target]
    before = np.maximum(
        run.before(stage.first).everything()[row] - run.before(stage.first).air[row], 1e-12
    )
    after = run.outcomes[stage.last].after
    kept_names = {s.keep_in for s in stage.steps} - {WASTE}
    in_play = [f for n, f in after.flasks.items() if n in kept_names]
    kept = sum((f.total()[row] for f in in_play), np.zeros(run.inventory.count))
    return np.asarray(kept / before)


def curve(
    run: Run, plan: Plan, target: str, stage: Stage, *, same_total: bool
) -> tuple[Array, ...]:
    """Recovery with 1 to 6 portions, at the same total or the same portion volume, (N,) each.

    The stage's extractions are replaced by one with n portions; nothing after it is carried out.
    """
    first = stage.steps[0]
    if not isinstance(first, Extract):
        return ()
    total = sum(s.volume_mL * s.portions for s in stage.steps if isinstance(s, Extract))
    results = []
    for n in range(1, MOST_PORTIONS + 1):
        volume = total / n if same_total else first.volume_mL
        step = replace(first, portions=n, volume_mL=volume)
        cut = Plan((*plan.steps[: stage.first], step))
        changed = continue_run(run, cut)
        results.append(recovery(changed, target, Stage(stage.first, stage.first, (step,))))
    return tuple(results)
