"""What to expect of each target: class band, this plan's band, recovery and its curves."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.measures import contents_weighed, measure
from workups.chemistry.recovery import Stage, curve, extraction_stage, recovery
from workups.chemistry.run import Run
from workups.chemistry.yields import theoretical_yield, weighing_u_g

from .assessment import CurvePoint, ExpectedTarget
from .case import Case
from .rule import band

Array = NDArray[np.float64]


def weighed_mass(run: Run, target: str) -> Array:
    """Mass of the product as a balance would show it, draw by draw, (N,) [g].

    Tare and gross each carry the balance's uncertainty, drawn apart.
    """
    glass = run.inventory.setup.glassware
    u = weighing_u_g(glass.balance_readability_g, glass.balance_repeatability_g)
    noise = run.inventory.draws.normal(f"balance:{target}") * u * np.sqrt(2.0)
    return np.asarray(measure(run, target).mass_g + noise)


def expected_targets(case: Case, model: Run, small: Case | None) -> tuple[ExpectedTarget, ...]:
    """Expectations for every target of an exercise; ``small`` is the same case with fewer
    draws, enough for the curves, or None where nobody looks at them."""
    return tuple(
        _expected(case, model, small, t.substance, t.recovery_goal)
        for t in case.exercise.setup.targets
    )


def _expected(
    case: Case, model: Run, small: Case | None, target: str, goal: float
) -> ExpectedTarget:
    inv = case.inventory
    theory = theoretical_yield(case.exercise.setup, inv.tables, target)
    stage = extraction_stage(case.run, target)
    contents = contents_weighed(case.run, target)
    composition = tuple(
        (key, float(contents[row, 0] * inv.molar_mass[row] * 1e-3))
        for key, row in inv.index.items()
        if contents[row, 0] * inv.molar_mass[row] > 1e-2
    )
    return ExpectedTarget(
        target=target,
        name=inv.names[target],
        theoretical_g=theory.mass.g,
        class_band=band(weighed_mass(model, target), "g"),
        plan_band=band(weighed_mass(case.run, target), "g"),
        recovery=band(recovery(case.run, target, stage)) if stage else None,
        recovery_goal=goal,
        same_total=_curve(small, target, stage, same_total=True),
        same_portion=_curve(small, target, stage, same_total=False),
        composition_g=composition,
    )


def _curve(
    case: Case | None, target: str, stage: Stage | None, *, same_total: bool
) -> tuple[CurvePoint, ...]:
    if case is None or stage is None:
        return ()
    points = curve(case.run, case.plan, target, stage, same_total=same_total)
    return tuple(CurvePoint(n, *_of(values)) for n, values in enumerate(points, start=1))


def _of(values: Array) -> tuple[float, float, float]:
    b = band(values)
    return b.nominal, b.low, b.high
