"""The two layers that a step shook, put together from the reports before and after it."""

from collections.abc import Sequence
from dataclasses import replace

from workups.chemistry.plan import WASTE, Parting, Plan
from workups.grading.assessment import PhaseReport, StepReport

_OTHER = {"organic": "aqueous", "aqueous": "organic", "upper": "lower", "lower": "upper"}


def shaken_phases(
    plan: Plan, reports: Sequence[StepReport], step_id: str, funnel_mL: float
) -> tuple[PhaseReport, ...]:
    """Both layers of a step, the kept one first; one phase where there was only one layer.

    With several portions the layers that were pooled hold what is in all of them together, and
    their volume is that of one portion, as it stood in the funnel; the pH is that of the last
    shake. A layer that went straight to waste holds what the flask held before and the kept layer
    does not; the film on the glass (about 1 %) is counted with it. Raises ValueError for a step
    that shakes nothing or has no report.
    """
    step = next((s for s in plan.of(Parting) if s.id == step_id), None)
    at = next((i for i, report in enumerate(reports) if report.step == step_id), None)
    if step is None or at is None:
        raise ValueError(f"step {step_id!r} leaves no layers to draw")
    after, before = reports[at], reports[at - 1] if at else None
    if not after.top:
        return tuple(p for p in after.phases if p.flask == step.keep_in and p.phase in _OTHER)[:1]
    kept_phase = after.top if step.keep == "upper" else _OTHER[after.top]
    pooled = step.shakes if step.pools_kept else 1
    kept = _gained(step, after, before, step.keep_in, kept_phase, pooled)
    other_phase = _OTHER[kept_phase]
    if step.other_in == WASTE:
        other = _poured_away(after, kept, other_phase, funnel_mL, _held(before, step.flask))
    else:
        shared = 1 if step.pools_kept else step.shakes
        other = _gained(step, after, before, step.other_in, other_phase, shared)
    return tuple(_with_pH(phase, after.pH) for phase in (kept, other))


def _with_pH(phase: PhaseReport, pH: float | None) -> PhaseReport:
    return replace(phase, pH=pH) if phase.phase == "aqueous" and pH is not None else phase


def _held(report: StepReport | None, flask: str) -> dict[str, float]:
    """Everything in a flask [mmol], all phases together."""
    held: dict[str, float] = {}
    for phase in report.phases if report else ():
        if phase.flask == flask:
            for key, mmol in phase.amounts_mmol:
                held[key] = held.get(key, 0.0) + mmol
    return held


def _phase(report: StepReport | None, flask: str, phase: str) -> PhaseReport | None:
    phases = report.phases if report else ()
    return next((p for p in phases if (p.flask, p.phase) == (flask, phase)), None)


def _gained(
    step: Parting,
    after: StepReport,
    before: StepReport | None,
    flask: str,
    phase: str,
    portions: int,
) -> PhaseReport:
    """What came into a flask, its volume by portion; all of it where the flask was poured out."""
    now = _phase(after, flask, phase) or PhaseReport(flask, phase, 0.0, 0.0, None, ())
    then = None if flask == step.flask else _phase(before, flask, phase)
    if then is None:
        return PhaseReport(
            flask, phase, now.volume_mL / portions, now.density_g_mL, now.pH, now.amounts_mmol
        )
    had = dict(then.amounts_mmol)
    gained = tuple((key, max(0.0, mmol - had.get(key, 0.0))) for key, mmol in now.amounts_mmol)
    return PhaseReport(
        flask,
        phase,
        max(0.0, now.volume_mL - then.volume_mL) / portions,
        now.density_g_mL,
        now.pH,
        gained,
    )


def _poured_away(
    after: StepReport, kept: PhaseReport, phase: str, funnel_mL: float, held: dict[str, float]
) -> PhaseReport:
    """The layer that went to waste, by what the funnel held and the density difference."""
    filled_mL = (after.funnel_fill or 0.0) * funnel_mL
    gap = after.density_difference_g_mL or 0.0
    density = kept.density_g_mL + (gap if phase == "aqueous" else -gap)
    stayed = dict(kept.amounts_mmol)
    gone = tuple((key, max(0.0, mmol - stayed.get(key, 0.0))) for key, mmol in held.items())
    return PhaseReport(WASTE, phase, max(0.0, filled_mL - kept.volume_mL), density, None, gone)
