"""Rules about heat: what boils where liquids meet, and which is poured into which."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from workups.chemistry.constants import KELVIN_AT_0_C
from workups.chemistry.heat import Warm, adiabatic_C, at_most_C, hottest_C
from workups.chemistry.plan import Add, Adjust, Parting, Plan, Quench, Step, Transfer

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Remark, Words, ramp, rule
from .meeting import Meeting, Part, meetings

say = Words("heat")
# What is computed is an upper bound: so far above its boiling point a solvent surely boils [K].
SURELY_ABOVE_K = 10.0
LEAST_MMOL = 10.0
BOILS_COSTS, ALL_ABOVE_K = 0.3, 40.0
# A liquid that is half sulfuric acid by mass, and more than 1 mL of that.
ACID_SHARE, LEAST_ACID_G = 0.5, 2.0
# Where it lies on the acid, water is hotter than the mixture on the whole.
SPITS_FROM_C, LESS_BY_K = 60.0, 20.0
WATER_INTO_ACID_COSTS, COOLED_COSTS = 0.3, 0.05


@dataclass(frozen=True)
class _Boiling:
    """How warm it could get [C], what boils first in it, and at which temperature."""

    celsius: float
    key: str
    boiling: float


@rule("boils-as-poured", check="layers_safety", stage=2)
def boils_as_poured(case: Case) -> Iterator[Breach]:
    """Only where the heat of the meeting makes it boil that would not have boiled without. What is
    poured slowly into an open flask in ice is cooled on the way; what is poured slowly without ice
    is told and not charged."""
    for i, step, _ in case.steps():
        for met in meetings(case, i):
            found = None if met.is_waste or _water_into_acid(met) else _boils(met)
            if found is None or (_cooled(step) and not _closed(step)):
                continue
            yield _too_hot(case, step, found)
            return


def _warm(part: Part) -> Warm:
    return part.amounts[:, :1], part.celsius


def _boils(met: Meeting) -> _Boiling | None:
    """What surely boils of a meeting by its heat alone; None if nothing."""
    inv = met.case.inventory.nominal
    parts = [_warm(part) for part in met.parts]
    amounts = np.asarray(sum((a for a, _ in parts), inv.none()))[:, 0]
    first = min(((antoine.boils_at_K() - KELVIN_AT_0_C, inv.keys[row])
                 for row, antoine in inv.volatile.items() if amounts[row] > LEAST_MMOL),
                default=(np.inf, ""))
    surely = first[0] + SURELY_ABOVE_K
    if met.celsius >= first[0] or float(at_most_C(inv, parts)[0]) < surely:
        return None
    at = float(adiabatic_C(inv, parts)[0])
    if at < surely:
        return None
    return _Boiling(at, first[1], first[0])


def _slowly(step: Step) -> bool:
    return bool(getattr(step, "slowly", False))


def _cooled(step: Step) -> bool:
    return _slowly(step) and step.is_on_ice


def _closed(step: Step) -> str:
    """What it is closed in; empty if it is open."""
    if isinstance(step, Parting):
        return "" if step.swirl_open else "a closed funnel"
    return "a closed flask" if isinstance(step, Quench) and not step.open_flask else ""


def _too_hot(case: Case, step: Step, found: _Boiling) -> Breach:
    above = found.celsius - found.boiling
    closed, light = _closed(step), _slowly(step) and not _closed(step)
    cost = BOILS_COSTS * ramp(above, SURELY_ABOVE_K, ALL_ABOVE_K)
    change = ("Let the two meet in an open flask in ice before anything is closed." if closed
              else "Pour slowly, in small portions, into an open flask in ice.")
    return Breach(
        step.id,
        Remark(
            Strength.ADVICE if light else Strength.SAFETY_HOLD,
            *say("boils-as-poured", celsius=found.celsius, boiling=found.boiling,
                 boils=case.inventory.names[found.key], change=change,
                 closed=f", in {closed}" if closed else ""),
            (Number("temperature, at most", found.celsius, "°C"),),
            score_loss=0.0 if light else cost,
        ),
        _gently(case.plan, step),
    )


def _gently(plan: Plan, step: Step) -> Plan | None:
    """The plan with the same poured slowly, in ice where the step has it; None where a step has no
    such choice."""
    if isinstance(step, Quench):
        return plan.replacing(replace(step, slowly=True, on_ice=True, open_flask=True))
    if isinstance(step, Adjust):
        return plan.replacing(replace(step, slowly=True, on_ice=True))
    return plan.replacing(replace(step, slowly=True)) if isinstance(step, Add) else None


@rule("water-into-acid", check="layers_safety", stage=2)
def water_into_acid(case: Case) -> Iterator[Breach]:
    """Lighter where it is poured slowly in ice, which takes the heat but not the spitting."""
    for i, step, _ in case.steps():
        for met in meetings(case, i):
            found = None if met.is_waste else _water_into_acid(met)
            if found is None:
                continue
            hot, other = found
            cooled = _cooled(step) and not _closed(step)
            yield Breach(
                step.id,
                Remark(
                    Strength.ADVICE if cooled else Strength.SAFETY_HOLD,
                    *say("water-into-acid", celsius=hot, other=other),
                    (Number("temperature on the way, at most", hot, "°C"),
                     Number("poured the other way round", other, "°C")),
                    score_loss=COOLED_COSTS if cooled else WATER_INTO_ACID_COSTS,
                ),
                _acid_into_water(case.plan, step),
            )
            return


def _water_into_acid(met: Meeting) -> tuple[float, float] | None:
    """How hot it gets [C] on the way and poured the other way round, where water (or what is mostly
    water) runs into concentrated sulfuric acid and boils there; None elsewhere."""
    inv = met.case.inventory.nominal
    there, *others = (_warm(part) for part in met.parts)
    if "sulfate" not in inv.index or len(others) != 1:
        return None
    row = inv.index["sulfate"]
    acid_g = float(there[0][row, 0] * inv.molar_mass[row]) * 1e-3
    if acid_g < max(LEAST_ACID_G, ACID_SHARE * float(inv.mass_g(there[0])[0])):
        return None
    hot = float(hottest_C(inv, there, others[0])[0])
    other = float(hottest_C(inv, others[0], there)[0])
    return (hot, other) if hot >= SPITS_FROM_C and other <= hot - LESS_BY_K else None


def _acid_into_water(plan: Plan, step: Step) -> Plan | None:
    """The plan with the acid poured into the same liquid in a beaker, and back."""
    if not isinstance(step, Add | Quench):
        return None
    at, beaker = plan.index(step.id), "beaker for the acid"
    water = Add(id=step.id, flask=beaker, material=step.material, volume_mL=step.volume_mL)
    pour = Transfer(id=plan.free_id(f"pour-{step.id}"), flask=step.flask, into=beaker)
    back = Transfer(id=plan.free_id(f"back-{step.id}"), flask=beaker, into=step.flask)
    return plan.replacing(water).inserting(at + 1, pour, back)
