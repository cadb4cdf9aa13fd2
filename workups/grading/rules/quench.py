"""Rules about what has to be destroyed before it is shut in, acidified or heated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from workups.chemistry.facts import Facts
from workups.chemistry.flow import Names
from workups.chemistry.kinds import REDUCTANTS, Contents
from workups.chemistry.limits import LEAST_OXIDANT_MMOL, LITTLE_GAS_ML, MUCH_GAS_ML
from workups.chemistry.plan import Add, Adjust, Parting, Plan, Quench, Strip, Wash
from workups.chemistry.plan import Test as TestStep
from workups.chemistry.redox import OXIDANT

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Remark, Words, band, rule
from .contents import (
    everything_in,
    mmol,
    on_bench,
    oxidant_in,
    quench_gas_mmol,
    solvent_mL,
    strongest_acid,
    takes_water_in,
)
from .meeting import Meeting, meetings, poison
from .rewriting import without_wash

say = Words("quench")
LEAST_GEL_MMOL = 0.5
LEAST_SOLVENT_ML = 1.0


def _gas_mL(case: Case, mmol_of_gas: np.ndarray) -> float:
    return float(case.gas_mL(np.percentile(mmol_of_gas, 95.0)))


def mild_quench(case: Case) -> str | None:
    """What a reactive reagent is best quenched with: ammonium chloride, else acid, else water."""
    ammonium = on_bench(case, lambda m: case.bottle(m).is_ammonium)
    if ammonium:
        return ammonium[-1]
    return strongest_acid(case) or ("water" if "water" in case.exercise.setup.materials else None)


@rule("not-quenched", check="layers_safety", stage=1)
def not_quenched(case: Case) -> Iterator[Breach]:
    """Gas at the 95th percentile of the draws; a flask with water in it has met it before."""
    for i, step, shakes in case.partings():
        there = case.before(i).flasks[step.flask]
        gas = _gas_mL(case, quench_gas_mmol(case, there.total()))
        if gas < LITTLE_GAS_ML or float(there.aqueous[case.inventory.water, 0]) > 0:
            continue
        with_what = mild_quench(case)
        fresh = Quench(
            id=case.plan.free_id(f"quench-before-{step.id}"),
            flask=step.flask,
            material=with_what or "water",
            volume_mL=max(20.0, float(shakes[0].organic_mL[0]) if shakes else 20.0),
        )
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                *say("not-quenched", gas_mL=gas),
                (Number("gas, dry", gas, "mL"),),
                score_loss=0.5,
            ),
            case.plan.inserting(i, fresh) if with_what else None,
        )
        return


@rule("quench-closed", check="layers_safety", stage=2)
def quench_closed(case: Case) -> Iterator[Breach]:
    """Only where gas comes off at all."""
    for i, step, facts in case.of(Quench):
        if step.open_flask:
            continue
        gas = _gas_made(case, i)
        if gas < LITTLE_GAS_ML:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                *say("quench-closed", gas_mL=_with_vapour_mL(case, facts)),
                _volumes(case, gas, facts),
                score_loss=0.4,
            ),
            case.plan.replacing(replace(step, open_flask=True)),
        )


def _gas_made(case: Case, index: int) -> float:
    """Gas set free by a step [mL]: carbon dioxide, and the reagent's own."""
    made = case.run.outcomes[index].facts.gas_mmol
    return 0.0 if made is None else _gas_mL(case, made)


def _with_vapour_mL(case: Case, facts: Facts) -> float:
    """What comes out of the flask [mL]: the gas with the vapour it takes along."""
    escaped = facts.escaped_mmol
    return 0.0 if escaped is None else _gas_mL(case, escaped)


def _volumes(case: Case, dry_mL: float, facts: Facts) -> tuple[Number, ...]:
    return (Number("gas, dry", dry_mL, "mL"),
            Number("gas with vapour", _with_vapour_mL(case, facts), "mL"))


@rule("poured-in-too-fast", check="layers_safety", stage=2)
def poured_in_too_fast(case: Case) -> Iterator[Breach]:
    """Lighter for an Add, which need not be meant to give gas."""
    for i, step, facts in case.steps():
        if not isinstance(step, Quench | Adjust | Add) or step.slowly:
            continue
        gas = _gas_made(case, i) if takes_water_in(case, step) else 0.0
        if gas < MUCH_GAS_ML:
            continue
        meant = not isinstance(step, Add)
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD if meant else Strength.ADVICE,
                *say("poured-in-too-fast", gas_mL=_with_vapour_mL(case, facts)),
                _volumes(case, gas, facts),
                score_loss=0.2 if meant else 0.05,
            ),
            case.plan.replacing(replace(step, slowly=True)),
        )


@rule("magnesium-hydroxide", check="extraction", stage=3)
def magnesium_hydroxide(case: Case) -> Iterator[Breach]:
    """Charged by the product the gel holds; shown with its pH."""
    if "magnesium" not in case.inventory.index:
        return
    for i, step, shakes in case.partings():
        before = case.before(i).flasks[step.flask]
        if not shakes or float(mmol(case, before.total(), "magnesium")[0]) < LEAST_GEL_MMOL:
            continue
        pH, gel = shakes[0].pH, band(shakes[0].gel_mmol)
        if gel.nominal < LEAST_GEL_MMOL or shakes[0].two_layers[0] == 0:
            return
        sure = gel.low >= LEAST_GEL_MMOL
        comes = f"{gel.nominal:.1f} mmol of magnesium comes" if sure else (
            f"{gel.low:.1f} to {gel.high:.1f} mmol of magnesium (uncertain) may come")
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE if sure else Strength.INFORMATION,
                *say("magnesium-hydroxide", pH=float(pH[0]), comes=comes),
                (Number("pH", float(pH[0]), ""),
                 Number("magnesium in the gel", gel.nominal, "mmol", gel.low, gel.high)),
            ),
            _quenched_with_ammonium(case, i),
        )
        return


def _quenched_with_ammonium(case: Case, before: int) -> Plan | None:
    better = mild_quench(case)
    if better in (None, "water"):
        return None
    for step in case.plan.steps[:before]:
        if isinstance(step, Quench | Add) and takes_water_in(case, step):
            return case.plan.replacing(replace(step, material=better))
    return None


@rule("oxidant-meets-acid", check="layers_safety", stage=1)
def oxidant_meets_acid(case: Case) -> Iterator[Breach]:
    """Asks what comes together (``meeting``), whichever is poured into what."""
    if OXIDANT not in case.inventory.index:
        return
    for i, step, _ in case.steps():
        for met in meetings(case, i):
            made = "" if met.aside or met.is_waste else poison(met)
            if not made:
                continue
            left = met.together.oxidant_mmol
            yield Breach(step.id, _poisonous(case, met, made), _kept_from_meeting(case, i, left))
            return


def _poisonous(case: Case, met: Meeting, made: str) -> Remark:
    left = met.together.oxidant_mmol
    gas = left * float(case.gas_mL(np.ones(1))[0])
    reduced = any(part.mmol(*REDUCTANTS) > 0 for part in met.parts)
    said = say("oxidant-meets-acid", "too-little-reductant" if reduced else made,
               left_mmol=left, made=made, gas_mL=gas, pH=met.together.pH)
    gas_number = Number("poisonous gas at most", gas, "mL")
    return Remark(Strength.SAFETY_HOLD, *said, (gas_number,), score_loss=0.5)


def _kept_from_meeting(case: Case, index: int, left_mmol: float) -> Plan | None:
    """The plan with the oxidant destroyed where it stands, or with its bottle left on the shelf;
    None where neither can be done."""
    step, before = case.plan.steps[index], case.before(index)
    if any(case.bottle(name).oxidises for name in step.materials()):
        return without_wash(case.plan, step) if isinstance(step, Wash) else (
            case.plan.without(step.id))
    for name in (*step.takes(), *step.fills()):
        if oxidant_in(case, before, name) >= LEAST_OXIDANT_MMOL:
            return _reduced_before(case, index, name, left_mmol)
    return None


@rule("oxidant-evaporated", check="layers_safety", stage=2)
def oxidant_evaporated(case: Case) -> Iterator[Breach]:
    """Whatever left the oxidant there; the mend reduces it before the step."""
    for i, step, _ in case.of(Strip):
        left = oxidant_in(case, case.before(i), step.flask)
        if left < LEAST_OXIDANT_MMOL:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.SAFETY_HOLD,
                *say("oxidant-evaporated", left_mmol=left),
                score_loss=0.4,
            ),
            _reduced_before(case, i, step.flask, left),
        )
        return


@rule("oxidant-extracted", check="layers_safety", stage=2)
def oxidant_extracted(case: Case) -> Iterator[Breach]:
    """Follows the solvent from the parting to the strip, and looks for a reductant between."""
    if OXIDANT not in case.inventory.index:
        return
    for at, strip, _ in case.of(Strip):
        if not case.holds_product(case.before(at), strip.flask):
            continue
        leads = case.run.flow.leads_to(strip.flask, at)
        for i, step, _ in case.partings():
            left = oxidant_in(case, case.before(i), step.flask)
            if i >= at or left < LEAST_OXIDANT_MMOL or not _solvent_goes_on(case, i, leads[i + 1]):
                continue
            if not any(_meets_reductant(case, j, leads[j]) for j in range(i, at)):
                yield _extracted(case, i, step, left)
                return


def _solvent_goes_on(case: Case, index: int, onward: Names) -> bool:
    """Whether a parting puts a solvent into a flask of which something is stripped later."""
    return any(solvent_mL(case, everything_in(case, case.after(index), name)) >= LEAST_SOLVENT_ML
               for name in onward.intersection(case.plan.steps[index].fills()))


def _meets_reductant(case: Case, index: int, flasks: Names) -> bool:
    """Whether a step brings some of these flasks together with a reducing agent."""
    step = case.plan.steps[index]
    taken = flasks.intersection(step.takes())
    return bool(taken) and (
        any(case.bottle(m).reduces for m in step.materials() if m not in case.inventory.agents)
        or any(Contents(case.inventory, everything_in(case, case.before(index), name)).mmol(
            *REDUCTANTS) > 0 for name in taken))


def _extracted(case: Case, index: int, step: Parting, left: float) -> Breach:
    return Breach(
        step.id,
        Remark(
            Strength.SAFETY_HOLD,
            *say("oxidant-extracted", left_mmol=left),
            (Number("oxidant left", left, "mmol"),),
            score_loss=0.5,
        ),
        _reduced_before(case, index, step.flask, left),
    )


@rule("oxidant-not-tested", check="layers_safety", stage=4)
def oxidant_not_tested(case: Case) -> Iterator[Breach]:
    """Only where a plan reduces an oxidant at all."""
    if OXIDANT not in case.inventory.index:
        return
    if any(s.how == "KI-starch" for s in case.plan.of(TestStep)):
        return
    for i, step, _ in case.steps():
        reduces = any(case.bottle(key).reduces for key in step.materials())
        if takes_water_in(case, step) and reduces:
            test = TestStep(
                id=case.plan.free_id("test-oxidant"), flask=step.acts_on, how="KI-starch")
            yield Breach(
                step.id,
                Remark(Strength.INFORMATION, *say("oxidant-not-tested")),
                case.plan.inserting(i + 1, test),
            )
            return


def _reduced_before(case: Case, index: int, flask: str, oxidant_mmol: float) -> Plan | None:
    """The plan with enough of a reducing agent put in a flask before a step; None if none is at
    hand."""
    reducing = on_bench(case, lambda m: case.bottle(m).reduces)
    if not reducing:
        return None
    parts = case.bottle(reducing[0]).components
    strength = sum(parts.get(k, 0.0) for k in REDUCTANTS)
    step = Add(
        id=case.plan.free_id("reduce"),
        flask=flask,
        material=reducing[0],
        volume_mL=max(5.0, round(1.2 * oxidant_mmol / strength, 0)),
        slowly=True,
    )
    return case.plan.inserting(index, step)
