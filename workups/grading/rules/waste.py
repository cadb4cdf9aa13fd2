"""Rules about what goes into which waste container, and what must never meet there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from workups.chemistry.contact import contact
from workups.chemistry.plan import WASTE, Combine, Discard, Parting, Plan, Step
from workups.chemistry.redox import OXIDANT
from workups.chemistry.speciation import NotConverged
from workups.chemistry.state import Flask, State

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Remark, rule
from .contents import everything_in, layers_mL, mmol, oxidant_left_mmol, solvent_mL

Array = NDArray[np.float64]

LEAST_SOLVENT_ML, LEAST_LIQUID_ML = 2.0, 2.0
MUCH_GAS_ML = 100.0
ACID_PH, CARBONATE_PH, BASE_PH, CONCENTRATED_BASE_PH = 2.0, 7.0, 12.0, 14.4
LEAST_OXIDANT_MMOL, LEAST_MMOL = 0.5, 1.0
STREAM_WORDS = {
    "aqueous": "aqueous waste",
    "acid": "acid waste",
    "base": "base waste",
    "non_halogenated": "non-halogenated solvent waste",
    "halogenated": "halogenated solvent waste",
    "solid": "solid waste",
}


@rule(
    "wrong-waste-stream",
    check="layers_safety",
    title="The wrong waste container",
    source="common teaching-lab streams: halogenated, non-halogenated, aqueous, acid, base, solid",
    stage=4,
)
def wrong_waste_stream(case: Case) -> Iterator[Breach]:
    """Waste is collected by what may stand together and by how it is burnt or treated. Halogenated
    solvent has a container of its own; solvent does not go to the water; acid and base are kept
    apart until someone neutralises them on purpose, carbonate too, which makes gas in the acid;
    drying agent and paper are solid waste.
    """
    for i, step, _ in case.steps():
        if not isinstance(step, Discard):
            continue
        right = _right_stream(case, case.before(i).flasks[step.flask], step.stream)
        if right is None:
            continue
        stream, what = right
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                f"'{step.flask}' holds {what} and goes to the {STREAM_WORDS[step.stream]}.",
                f"It belongs in the {STREAM_WORDS[stream]}.",
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, stream=stream)),
        )


def _right_stream(case: Case, flask: Flask, stream: str) -> tuple[str, str] | None:
    """Where the contents belong and what they are, if not where they are put."""
    organic, water = layers_mL(case, flask)
    solvent = solvent_mL(case, flask.liquid())
    if organic > max(water, LEAST_SOLVENT_ML) and solvent > LEAST_SOLVENT_ML:
        return _solvent_stream(case, flask, organic, stream)
    if water <= LEAST_LIQUID_ML:
        return None
    if stream in ("halogenated", "non_halogenated"):
        return "aqueous", f"{water:.0f} mL of water layer"
    if stream == "solid" and not np.any(flask.solid[:, 0] > 0):
        return "aqueous", f"{water:.0f} mL of water layer"
    return _acid_or_base(case, flask, stream) if stream in ("acid", "base") else None


def _acid_or_base(case: Case, flask: Flask, stream: str) -> tuple[str, str] | None:
    """Where a water layer belongs that is put to the acid or to the base, if not there."""
    pH = _mixed_pH(case, flask.liquid())
    if stream == "base":
        return ("acid", f"acid (pH {pH:.1f})") if pH < ACID_PH else None
    if pH > BASE_PH:
        return "base", f"base (pH {pH:.1f})"
    if pH > CARBONATE_PH and _carbonate_gas_mL(case, flask) > MUCH_GAS_ML:
        return "aqueous", f"carbonate (pH {pH:.1f}), which gives gas with acid,"
    return None


def _carbonate_gas_mL(case: Case, flask: Flask) -> float:
    """Gas that acid would set free from a liquid [mL], nominal."""
    return float(case.gas_mL(mmol(case, flask.liquid(), "carbon_dioxide"))[0])


def _solvent_stream(
    case: Case, flask: Flask, organic_mL: float, stream: str
) -> tuple[str, str] | None:
    halogenated = solvent_mL(case, flask.liquid(), halogenated=True)
    if halogenated > LEAST_SOLVENT_ML:
        if stream == "halogenated":
            return None
        return "halogenated", f"{halogenated:.0f} mL of halogenated solvent"
    if stream in ("halogenated", "non_halogenated"):
        return None
    return "non_halogenated", f"{organic_mL:.0f} mL of solvent"


@rule(
    "waste-makes-gas",
    check="layers_safety",
    title="Acid and carbonate washings in one container",
    source="charge balance and Henry's law as computed for the mixture; University of Minnesota "
    "Joint Safety Team report on burst waste bottles",
    stage=4,
)
def waste_makes_gas(case: Case) -> Iterator[Breach]:
    """Acid and carbonate washings poured together go on making carbon dioxide. In a capped bottle
    the pressure bursts it, hours later and with nobody near. Keep them in separate containers, or
    mix them in an open beaker until they are quiet; never close a bottle that both have gone into.
    """
    inv = case.inventory
    if inv.co2 is None:
        return
    held: dict[str, Array] = {}
    for i, step, _ in case.steps():
        for name in _poured_to(step):
            now = _held(case, case.after(i), name)
            gas = _fresh_gas_mL(case, _parts(case, i, step, held.get(name), now), now)
            if gas > MUCH_GAS_ML:
                yield _gas_breach(case, step, name, gas)
                return
            held[name] = now


def _poured_to(step: Step) -> tuple[str, ...]:
    """Where a step pours a layer that is put aside: a flask of washings or a waste stream."""
    if isinstance(step, Parting):
        return (f"{WASTE}:aqueous",) if step.other_in == WASTE else (step.other_in,)
    if isinstance(step, Combine):
        return (step.into,)
    return (f"{WASTE}:{step.stream}",) if isinstance(step, Discard) else ()


def _held(case: Case, state: State, name: str) -> Array:
    if name.startswith(f"{WASTE}:"):
        return state.waste.get(name.partition(":")[2], case.inventory.none())
    return everything_in(case, state, name)


def _parts(case: Case, index: int, step: Step, held: Array | None, now: Array) -> list[Array]:
    """What comes together in a flask of washings or a waste stream, part by part."""
    if isinstance(step, Combine):
        names = dict.fromkeys((*step.flasks, step.into))
        return [everything_in(case, case.before(index), name) for name in names]
    return [] if held is None else [held, np.maximum(now - held, 0.0)]


def _fresh_gas_mL(case: Case, parts: list[Array], now: Array) -> float:
    """Gas from the mixture [mL] beyond what the parts give for themselves, nominal."""
    inv = case.inventory
    wet = [part for part in parts if float(part[inv.water, 0]) > 0]
    most = float(case.gas_mL(now[inv.co2])[0]) if inv.co2 is not None else 0.0
    if len(wet) < 2 or most < MUCH_GAS_ML:
        return 0.0
    try:
        alone = sum(contact(inv, part).gas_mmol[0] for part in wet)
        return float(case.gas_mL(contact(inv, now).gas_mmol - alone)[0])
    except NotConverged:
        return 0.0


def _gas_breach(case: Case, step: Step, name: str, gas: float) -> Breach:
    place = "the waste" if name.startswith(f"{WASTE}:") else f"'{name}'"
    return Breach(
        step.id,
        Remark(
            Strength.ADVICE,
            f"Acid and carbonate washings meet in {place}: about {gas:.0f} mL of carbon dioxide "
            "comes off there.",
            "Keep acid and carbonate washings apart, or mix them in an open beaker until quiet; "
            "never close a bottle that both have gone into.",
            (Number("gas, dry", gas, "mL"),),
        ),
        _kept_apart(case, step),
    )


def _poured_elsewhere(case: Case, index: int, step: Step, name: str) -> Plan | None:
    """The plan with what a step puts aside kept apart; None if that alone is the mixture."""
    poured = _held(case, case.after(index), name) - _held(case, case.before(index), name)
    return None if _never(case, np.maximum(poured, 0.0)) else _kept_apart(case, step)


def _kept_apart(case: Case, step: Step) -> Plan | None:
    """The plan with what a step puts aside in a container of its own; None where there is none."""
    if isinstance(step, Parting) and not case.used_later(case.plan.index(step.id), step.other_in):
        return case.plan.replacing(replace(step, other_in=f"{step.id} washings"))
    if isinstance(step, Discard):
        other = "acid" if step.stream == "aqueous" else "aqueous"
        return case.plan.replacing(replace(step, stream=other))
    return None


@rule(
    "waste-never-together",
    check="layers_safety",
    title="These must never meet",
    source="chloroform with acetone and strong base, hypochlorite with acid or ammonia: the usual "
    "incompatibility lists of safety offices (common practice)",
    stage=1,
)
def waste_never_together(case: Case) -> Iterator[Breach]:
    """Chloroform reacts violently with acetone when strong base is there, and with concentrated
    hydroxide alone; hypochlorite gives chlorine with acid and chloramines with ammonia. Not in a
    funnel, not in a flask of washings, not in a waste bottle.
    """
    for i, step, _ in case.steps():
        aside = _poured_to(step)
        for name in (*aside, *_shaken(step)):
            said = _never(case, _held(case, case.after(i), name))
            if said:
                yield Breach(
                    step.id,
                    Remark(
                        Strength.SAFETY_HOLD,
                        said,
                        "Keep them in containers of their own, and ask before you pour.",
                        score_loss=0.4,
                    ),
                    _poured_elsewhere(case, i, step, name) if name in aside else None,
                )
                return


def _shaken(step: Step) -> tuple[str, ...]:
    return (step.keep_in,) if isinstance(step, Parting) else ()


def _mixed_pH(case: Case, amounts: Array) -> float:
    try:
        return float(contact(case.inventory, amounts).split.pH[0])
    except NotConverged:
        return 7.0


def _never(case: Case, amounts: Array) -> str:
    inv = case.inventory
    chloroform = float(mmol(case, amounts, "chloroform")[0])
    if OXIDANT not in inv.index and chloroform < LEAST_MMOL:
        return ""
    water = float(inv.volume_mL(amounts)[0]) > 0 and float(amounts[inv.water, 0]) > LEAST_MMOL
    pH = _mixed_pH(case, amounts) if water else 7.0
    if chloroform > LEAST_MMOL:
        acetone = float(mmol(case, amounts, "acetone")[0])
        if acetone > LEAST_MMOL and pH > BASE_PH:
            return f"Chloroform, acetone and base (pH {pH:.1f}) meet here and react violently."
        if pH > CONCENTRATED_BASE_PH:
            return f"Chloroform meets concentrated base (pH {pH:.1f}) here and reacts violently."
    left = oxidant_left_mmol(case, amounts)
    ammonia = float(mmol(case, amounts, "ammonia")[0])
    if left > LEAST_OXIDANT_MMOL and (pH < 5.0 or ammonia > LEAST_MMOL):
        gas = "chloramines" if ammonia > LEAST_MMOL else "chlorine"
        return f"{left:.0f} mmol of hypochlorite meets {'ammonia' if ammonia > 1 else 'acid'} " + (
            f"here and gives {gas}."
        )
    return ""
