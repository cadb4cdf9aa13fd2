"""Rules about what goes into which waste container, and what must never meet there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from workups.chemistry.kinds import Contents
from workups.chemistry.limits import MUCH_GAS_ML
from workups.chemistry.plan import Add, Adjust, Discard, Parting, Plan, Quench, Step
from workups.chemistry.redox import OXIDANT
from workups.chemistry.state import Flask
from workups.words.sentences import STREAM_TITLES

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Remark, Words, rule
from .contents import layers_mL, solvent_mL
from .meeting import BASE_PH, Meeting, meetings, poison, violent

say = Words("waste")
LEAST_SOLVENT_ML, LEAST_LIQUID_ML = 2.0, 2.0
ACID_PH, CARBONATE_PH = 2.0, 7.0
LEAST_HALOGENATED_G = 2.0
# Steps whose own gas other rules tell of: in the funnel, and where something is poured in.
TOLD_ELSEWHERE = (Parting, Quench, Add, Adjust)
# What a container of the other kind takes without warming: 0.3 kJ, 0.7 K in 100 mL (57 kJ/mol).
LEAST_NEUTRALISED_MMOL = 5.0
# A cake that was not rinsed or pressed holds up to half as much again as one that drained well.
WET_CAKE = 1.5


@rule("wrong-waste-stream", check="layers_safety", stage=4)
def wrong_waste_stream(case: Case) -> Iterator[Breach]:
    """The stream that the contents ask for, against the one that is named."""
    for i, step, _ in case.of(Discard):
        right = _right_stream(case, case.before(i).flasks[step.flask], step.stream)
        if right is None:
            continue
        stream, what = right
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                *say("wrong-waste-stream", flask=step.flask, what=what,
                     named=STREAM_TITLES[step.stream], right=STREAM_TITLES[stream]),
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, stream=stream)),
        )


def _right_stream(case: Case, flask: Flask, stream: str) -> tuple[str, str] | None:
    """Where the contents belong and what they are, if not where they are put.

    Nothing is said where departments differ: halogenated and other solvent are both taken with
    the halogenated, anything watery with the aqueous, little acid or base with either.
    """
    organic, water = layers_mL(case, flask)
    if stream == "solid" and _is_cake(case, flask):
        return None
    if organic > max(water, LEAST_SOLVENT_ML):
        return _solvent_stream(case, flask, organic, stream)
    if water <= LEAST_LIQUID_ML:
        return None
    if stream in ("halogenated", "non_halogenated"):
        return "aqueous", f"{water:.0f} mL of water layer"
    if stream == "solid" and not np.any(flask.solid[:, 0] > 0):
        return "aqueous", f"{water:.0f} mL of water layer"
    return _acid_or_base(case, flask, stream) if stream in ("acid", "base") else None


def _is_cake(case: Case, flask: Flask) -> bool:
    """Whether a flask holds solid with no more organic liquid than the solid holds back."""
    inv = case.inventory
    agents = {
        row: inv.agents[key] for key, row in inv.agent_rows.items() if flask.solid[row, 0] > 0}
    held_mL = sum(
        float(flask.solid[row, 0]) * agent.molar_mass * 1e-3 * agent.cake.value
        for row, agent in agents.items())
    rest_g = sum(
        float(flask.solid[row, 0] * inv.molar_mass[row]) * 1e-3
        for row in np.flatnonzero(flask.solid[:, 0] > 0) if row not in agents and row != inv.water)
    held_mL += rest_g * float(inv.practice["moist_cake_mL_per_g"][0])
    organic_mL, _ = layers_mL(case, flask)
    return held_mL > 0 and organic_mL <= WET_CAKE * held_mL + LEAST_SOLVENT_ML


def _acid_or_base(case: Case, flask: Flask, stream: str) -> tuple[str, str] | None:
    """Where a water layer belongs that is put to the acid or to the base, if not there."""
    held = Contents(case.inventory, flask.liquid())
    pH = held.pH
    if stream == "base":
        much = pH < ACID_PH and held.acid_mmol >= LEAST_NEUTRALISED_MMOL
        return ("acid", f"acid (pH {pH:.1f})") if much else None
    if pH > BASE_PH and held.base_mmol >= LEAST_NEUTRALISED_MMOL:
        return "base", f"base (pH {pH:.1f})"
    if pH > CARBONATE_PH and _nominal_mL(case, held.carbonate_mmol) > MUCH_GAS_ML:
        return "aqueous", f"carbonate (pH {pH:.1f}), which gives gas with acid,"
    return None


def _solvent_stream(
    case: Case, flask: Flask, organic_mL: float, stream: str
) -> tuple[str, str] | None:
    held = Contents(case.inventory, flask.liquid())
    if held.is_halogenated and held.halogenated_g >= LEAST_HALOGENATED_G:
        if stream == "halogenated":
            return None
        return "halogenated", f"{held.halogenated_g:.0f} g of halogenated compounds"
    if stream in ("halogenated", "non_halogenated") or (
        solvent_mL(case, flask.liquid()) <= LEAST_SOLVENT_ML
    ):
        return None
    return "non_halogenated", f"{organic_mL:.0f} mL of solvent"


@rule("waste-makes-gas", check="layers_safety", stage=4)
def waste_makes_gas(case: Case) -> Iterator[Breach]:
    """What makes gas in a container with what was put there before."""
    if case.inventory.co2 is None:
        return
    for i, step, _ in case.steps():
        for met in meetings(case, i):
            gas = 0.0 if met.stirred and isinstance(step, TOLD_ELSEWHERE) else _fresh_gas_mL(met)
            if gas > MUCH_GAS_ML:
                yield _gas_breach(case, step, met, gas)
                return


def _fresh_gas_mL(met: Meeting) -> float:
    """Gas from the mixture [mL] beyond what the parts give for themselves, nominal."""
    wet = [part for part in met.parts if part.mmol("water") > 0]
    most = _nominal_mL(met.case, met.together.carbonate_mmol)
    if len(wet) < 2 or most < MUCH_GAS_ML:
        return 0.0
    return _nominal_mL(met.case, met.together.gas_mmol - sum(p.gas_mmol for p in wet))


def _nominal_mL(case: Case, mmol_of_gas: float) -> float:
    return float(case.gas_mL(np.array([mmol_of_gas]))[0])


def _gas_breach(case: Case, step: Step, met: Meeting, gas: float) -> Breach:
    place = "the waste" if met.is_waste else f"'{met.place}'"
    return Breach(
        step.id,
        Remark(
            Strength.ADVICE,
            *say("waste-makes-gas", place=place, gas_mL=gas),
            (Number("gas, dry", gas, "mL"),),
        ),
        _kept_apart(case, step) if met.aside or met.is_waste else None,
    )


def _kept_apart(case: Case, step: Step) -> Plan | None:
    """The plan with what a step puts aside in a container of its own; None where there is none."""
    if isinstance(step, Parting) and not case.used_later(case.plan.index(step.id), step.other_in):
        return case.plan.replacing(replace(step, other_in=f"{step.id} washings"))
    if isinstance(step, Discard):
        other = "acid" if step.stream == "aqueous" else "aqueous"
        return case.plan.replacing(replace(step, stream=other))
    return None


@rule("waste-never-together", check="layers_safety", stage=1)
def waste_never_together(case: Case) -> Iterator[Breach]:
    """What must never meet, by the contents at their pH."""
    inv = case.inventory
    if OXIDANT not in inv.index and "chloroform" not in inv.index:
        return
    for i, step, _ in case.steps():
        for met in meetings(case, i):
            said = violent(met)
            made = poison(met) if not said and (met.aside or met.is_waste) else ""
            if said or made:
                yield Breach(
                    step.id,
                    Remark(
                        Strength.SAFETY_HOLD,
                        *say("waste-never-together", made or "violent", said=said, made=made,
                             left_mmol=met.together.oxidant_mmol),
                        score_loss=0.4,
                    ),
                    _kept_apart(case, step) if met.aside or met.is_waste else None,
                )
                return


