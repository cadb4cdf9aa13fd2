"""What is in the funnel before it is shaken: what the flask held, and the fresh liquid."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from workups.chemistry.plan import Parting, Plan
from workups.chemistry.setup import Setup
from workups.exercise.exercise import Exercise
from workups.grading.assessment import StepReport
from workups.words.material_facts import material_word
from workups.words.numbers import rounded

MIXTURE = "mixture"
_LIQUIDS = ("organic", "aqueous")
_LEAST_ML = 0.05


@dataclass(frozen=True)
class Unshaken:
    """A liquid in the funnel before the shake: ``organic``, ``aqueous``, or ``mixture`` where what
    came out of the reaction is not known in parts. ``density_g_mL`` is 0 where it is not known;
    ``parts`` says what was poured in, in words; ``contents`` is what was there, by mmol."""

    phase: str
    volume_mL: float
    density_g_mL: float
    parts: tuple[str, ...]
    contents: tuple[tuple[str, float], ...] = ()


def unshaken(exercise: Exercise, plan: Plan, reports: Sequence[StepReport],
             step_id: str) -> tuple[Unshaken, ...]:
    """The liquids before the first shake of a step, from the top down by their densities.

    What the flask holds counts as mixed with fresh liquid of its own kind: poured in, the two run
    together. Solids are left out.
    """
    step = next(s for s in plan.of(Parting) if s.id == step_id)
    at = next(i for i, report in enumerate(reports) if report.step == step_id)
    held = _held(exercise, reports, at, step)
    added = _added(exercise, step)
    if added is None:
        return _stacked(held, reports[at].top)
    same = next((u for u in held if u.phase == added.phase), None)
    if same is None:
        return _stacked([*held, added], reports[at].top)
    return _stacked([_mixed(u, added) if u is same else u for u in held], reports[at].top)


def _held(
    exercise: Exercise, reports: Sequence[StepReport], at: int, step: Parting
) -> list[Unshaken]:
    if at == 0:
        fill = (reports[0].funnel_fill or 0.0) * exercise.setup.glassware.funnel_mL
        fresh_mL = (step.fresh.each_mL if step.fresh else None) or 0.0
        return [Unshaken(MIXTURE, max(0.0, fill - fresh_mL), 0.0, (f"‘{step.flask}’",))]
    return [
        Unshaken(p.phase, p.volume_mL, p.density_g_mL, (f"‘{step.flask}’",), p.amounts_mmol)
        for p in reports[at - 1].phases
        if p.flask == step.flask and p.phase in _LIQUIDS and p.volume_mL >= _LEAST_ML
    ]


def _added(exercise: Exercise, step: Parting) -> Unshaken | None:
    if step.fresh is None or step.fresh.each_mL is None:
        return None
    material, volume_mL = step.fresh.material, step.fresh.each_mL
    phase = "organic" if material in exercise.setup.tables.solvents else "aqueous"
    words = f"{material_word(material, exercise)}, {rounded(volume_mL, 'mL', 2)}"
    return Unshaken(phase, volume_mL, _density(exercise.setup, material), (words,))


def _density(setup: Setup, key: str) -> float:
    """Of a material [g/mL]; 0 where it has none."""
    own = next((m for m in setup.own_materials if m.key == key), None)
    if own is not None:
        return own.density_g_mL
    if key in setup.tables.solutions:
        return setup.tables.solutions[key].density.value
    substance = setup.tables.substances.get(key)
    density = substance.values.get("density") if substance else None
    return density.value if density else 0.0


def _mixed(one: Unshaken, other: Unshaken) -> Unshaken:
    """Two liquids of a kind, poured together; volumes add."""
    volume = one.volume_mL + other.volume_mL
    mass = one.volume_mL * one.density_g_mL + other.volume_mL * other.density_g_mL
    is_known = one.density_g_mL > 0 and other.density_g_mL > 0
    return replace(one, volume_mL=volume, density_g_mL=mass / volume if is_known else 0.0,
                   parts=(*one.parts, *other.parts))


def _stacked(liquids: Sequence[Unshaken], top: str) -> tuple[Unshaken, ...]:
    """The lightest on top; where a density is not known, as they lie after the shake."""
    if all(u.density_g_mL > 0 for u in liquids):
        return tuple(sorted(liquids, key=lambda u: u.density_g_mL))
    ranks = {top: 0, MIXTURE: 1}
    return tuple(sorted(liquids, key=lambda u: ranks.get(u.phase, 2)))
