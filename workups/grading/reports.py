"""A run told step by step: layers, pH, gas, phases and where the product is."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from workups.chemistry.constants import ATMOSPHERE_PA
from workups.chemistry.facts import Facts
from workups.chemistry.inventory import Inventory
from workups.chemistry.layers import molar_gas_volume_mL
from workups.chemistry.limits import CLOSE_DENSITIES_G_ML
from workups.chemistry.measures import place_shares
from workups.chemistry.plan import Step
from workups.chemistry.run import Outcome, Run
from workups.chemistry.state import PHASES, Flask
from workups.chemistry.sums import percentile

from .assessment import GasReport, PhaseReport, StepReport, TrailShare

TRACE_MMOL, TRACE_SHARE, SMALLEST_PHASE_ML = 1e-6, 1e-4, 0.005
LEAST_GAS_MMOL = 0.02
NOMINAL = slice(1)


def step_reports(run: Run) -> tuple[StepReport, ...]:
    """One report per step, nominal values (draw 0), gas with its upper end."""
    known: dict[tuple[str, int], tuple[PhaseReport, ...]] = {}
    return tuple(_report(run, outcome, known) for outcome in run.outcomes)


def not_carried_out(step: Step) -> StepReport:
    """The report of a step that the run never came to: nothing is known of it."""
    return StepReport(step.id, step.verb, "", None, False, None, None, (), (),
                      notes=("not carried out",))


def _report(
    run: Run, outcome: Outcome, known: dict[tuple[str, int], tuple[PhaseReport, ...]]
) -> StepReport:
    """One step's; ``known`` the phases of flasks by name and identity: a step changes few."""
    inv, facts = run.inventory, outcome.facts
    shake = facts.shakes[-1] if facts.shakes else None
    two = shake is not None and shake.two_layers[0] > 0
    gap = float(shake.density_difference[0]) if shake is not None and two else None
    top = ("organic" if shake.organic_on_top[0] > 0 else "aqueous") if shake and two else ""
    phases: list[PhaseReport] = []
    for name, flask in sorted(outcome.after.flasks.items()):
        if (name, id(flask)) not in known:
            known[name, id(flask)] = tuple(_phases(inv, name, flask))
        phases += known[name, id(flask)]
    return StepReport(
        step=outcome.step.id,
        verb=outcome.step.verb,
        top=top,
        density_difference_g_mL=gap,
        may_invert=gap is not None and abs(gap) < CLOSE_DENSITIES_G_ML,
        funnel_fill=max((float(s.fill[0]) for s in facts.shakes), default=None),
        gas=_gas(inv, facts),
        phases=tuple(phases),
        trail=_trail(run, outcome),
        looks=facts.looks,
        minutes=facts.minutes,
        notes=facts.problems,
        pH=_pH(inv, outcome),
    )


def _pH(inv: Inventory, outcome: Outcome) -> float | None:
    """pH of the water the step dealt with, None where there was none."""
    if outcome.facts.shakes:
        shake = outcome.facts.shakes[-1]
        return float(shake.pH[0]) if float(shake.aqueous_mL[0]) > SMALLEST_PHASE_ML else None
    flask = outcome.after.flasks.get(outcome.step.acts_on)
    if flask is None or flask.pH is None:
        return None
    water = float(inv.volume_mL(flask.aqueous[:, :1])[0])
    return float(flask.pH[0]) if water > SMALLEST_PHASE_ML else None


def _phases(inv: Inventory, name: str, flask: Flask) -> Iterator[PhaseReport]:
    for phase in PHASES:
        amounts = getattr(flask, phase)[:, :1]
        there = np.flatnonzero(amounts[:, 0] > TRACE_MMOL)
        if not there.size:
            continue
        volume = float(inv.volume_mL(amounts)[0])
        if volume < SMALLEST_PHASE_ML and phase != "solid":
            continue
        held = tuple((inv.keys[row], float(amounts[row, 0])) for row in there)
        density = float(inv.mass_g(amounts)[0]) / volume if volume > 0 else 0.0
        pH = float(flask.pH[0]) if flask.pH is not None and phase == "aqueous" else None
        yield PhaseReport(name, phase, volume, density, pH, held)


def _gas(inv: Inventory, facts: Facts) -> GasReport | None:
    shakes = facts.shakes
    total = facts.gas_mmol
    if not shakes and (total is None or float(total[0]) < LEAST_GAS_MMOL):
        return None
    per_mmol = molar_gas_volume_mL(inv.room_C)
    dry = float(total[0]) if total is not None else 0.0
    high = percentile(total, 95.0) * per_mmol if total is not None else 0.0
    stoppered = max((percentile(s.stoppered_Pa, 95.0) for s in shakes), default=ATMOSPHERE_PA)
    return GasReport(
        dry_mmol=dry,
        dry_mL=dry * per_mmol,
        with_vapour_mL=_with_vapour(facts, per_mmol),
        dry_mL_high=high,
        stoppered_kPa=stoppered / 1e3,
        stoppered_gauge_kPa=(stoppered - ATMOSPHERE_PA) / 1e3,
    )


def _with_vapour(facts: Facts, per_mmol: float) -> float:
    """What really comes out of the tap or the flask: bubbles filled up with vapour to one
    atmosphere."""
    shakes, escaped = facts.shakes, facts.escaped_mmol
    if not shakes:
        return 0.0 if escaped is None else float(escaped[0]) * per_mmol
    return float(
        sum(
            float(s.gas_mmol[0]) * per_mmol * ATMOSPHERE_PA / float(s.co2_Pa[0])
            for s in shakes
            if float(s.co2_Pa[0]) > 0
        )
    )


def _trail(run: Run, outcome: Outcome) -> tuple[TrailShare, ...]:
    shares = []
    for target in run.inventory.setup.targets:
        key = target.substance
        row = run.inventory.index[key]
        total = float(run.start.everywhere(row)[0])
        molar = float(run.inventory.molar_mass[row])
        for (place, phase), share in place_shares(run, outcome.after, key, NOMINAL).items():
            if float(share[0]) > TRACE_SHARE:
                shares.append(
                    TrailShare(
                        key, place, phase, float(share[0]), float(share[0]) * total * molar * 1e-3
                    )
                )
    return tuple(shares)
