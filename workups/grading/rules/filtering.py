"""Rules about taking the drying agent off, and about what stays behind on solids and glass."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from workups.chemistry.plan import Filter, Transfer
from workups.words.numbers import percent

from ..assessment import Number, Strength
from ..case import Case
from ..rule import Breach, Remark, Words, rule

say = Words("filtering")
LEAST_FILM, MUCH_FILM = 0.01, 0.03


@rule("cake-not-rinsed", check="drying", stage=4)
def cake_not_rinsed(case: Case) -> Iterator[Breach]:
    """By what the filtered flask holds in liquid: what the agent binds no rinse brings back."""
    for i, step, _ in case.of(Filter):
        if step.rinses and step.rinse_with:
            continue
        if not _has_solvent(case, i, step.flask):
            continue
        target = case.main_target(case.before(i), step.flask)
        left = _in_liquid(case, i, step, target)
        if left < 0.01:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE if left > 0.02 else Strength.INFORMATION,
                *say("cake-not-rinsed", holder=_holder(case, i, step), share=percent(left)),
                (Number("product held back", left * 100, "%"),),
            ),
            case.plan.replacing(
                replace(step, rinse_with=_rinsing(case, i, step), rinse_mL=4.0, rinses=2)
            ),
        )


def _in_liquid(case: Case, index: int, step: Filter, target: str) -> float:
    """Share of a target (0..1) that the filtered flask holds in liquid, which a rinse takes along;
    what the agent binds stays."""
    there, row = case.after(index).flasks[step.flask], case.inventory.index[target]
    return float(there.liquid()[row, 0]) / max(case.available(target), 1e-12)


def _holder(case: Case, index: int, step: Filter) -> str:
    solid = case.before(index).flasks[step.flask].solid
    dried = any(float(solid[row, 0]) > 0 for row in case.inventory.agent_rows.values())
    return "The drying agent" if dried else "The paper"


def _rinsing(case: Case, index: int, step: Filter) -> str:
    """The solvent the solution is in."""
    inv, organic = case.inventory, case.before(index).flasks[step.flask].organic
    return max(inv.solvents, key=lambda s: float(organic[inv.index[s], 0]))


def _has_solvent(case: Case, index: int, flask: str) -> bool:
    """Whether there is an extraction solvent: a neat product has nothing to be rinsed with."""
    inv = case.inventory
    return float(case.before(index).flasks[flask].organic[inv.solvent_rows, 0].sum()) > 0


@rule("powder-decanted", check="drying", stage=4)
def powder_decanted(case: Case) -> Iterator[Breach]:
    """Agents that the tables call decantable are left out."""
    for i, step, _ in case.of(Filter):
        if step.method != "decant":
            continue
        solid = case.before(i).flasks[step.flask].solid
        inv = case.inventory
        powders = [
            a
            for a, r in inv.agent_rows.items()
            if float(solid[r, 0]) > 0 and not inv.agents[a].decantable
        ]
        if not powders:
            continue
        over = case.after(i).flasks[step.into].solid
        grams = sum(
            float(over[inv.agent_rows[a], 0] * inv.molar_mass[inv.agent_rows[a]] * 1e-3)
            for a in powders
        )
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE,
                *say("powder-decanted", mg=grams * 1000),
                (Number("drying agent carried over", grams * 1000, "mg"),),
                score_loss=0.1,
            ),
            case.plan.replacing(replace(step, method="gravity")),
        )


@rule("not-rinsed-over", check="order", stage=4)
def not_rinsed_over(case: Case) -> Iterator[Breach]:
    """By the film on the glass of the vessel that was poured out."""
    solvent = next(iter(case.inventory.solvents), "")
    for i, step, _ in case.of(Transfer):
        if step.rinses and step.rinse_with:
            continue
        target = case.main_target(case.before(i), step.flask)
        row = case.inventory.index[target]
        film = case.after(i).films.get(step.flask)
        before = case.before(i).films.get(step.flask)
        if film is None:
            continue
        gained = float(film[row, 0]) - (0.0 if before is None else float(before[row, 0]))
        left = gained / max(case.available(target), 1e-12)
        if left < LEAST_FILM:
            continue
        yield Breach(
            step.id,
            Remark(
                Strength.ADVICE if left > MUCH_FILM else Strength.INFORMATION,
                *say("not-rinsed-over", share=percent(left)),
                (Number("product on the glass", left * 100, "%"),),
            ),
            case.plan.replacing(replace(step, rinse_with=solvent, rinse_mL=3.0, rinses=2))
            if solvent
            else None,
        )
