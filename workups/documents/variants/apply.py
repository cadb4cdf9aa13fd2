"""An exercise and a variant to the exercise that somebody gets."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from workups.chemistry.components import WATER
from workups.chemistry.inventory import partition_quantity
from workups.chemistry.limits import FUNNEL_WELL_FILLED
from workups.chemistry.materials import UnknownMaterial
from workups.chemistry.plan import Plan
from workups.chemistry.setup import Setup
from workups.chemistry.speciation import NotConverged
from workups.chemistry.steps import MissingFlask
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Choice, Exercise
from workups.explanation.values_used import GRADE_WORDS
from workups.stock.hazards import material_hazards
from workups.words.material_facts import (
    hazard_words,
    material_facts,
    material_name,
    substance_word,
)
from workups.words.numbers import amount, joined, percent, significant

from ..plan_check import check_plan
from .amounts import FUNNELS_mL, funnel_for, scaled_exercise, spread_amounts
from .following import (
    BRINE,
    MILD_AGENT,
    Change,
    Lab,
    fullest_mL,
    goals_are_reached,
    is_wet,
    keeping_phases,
    kept_phases,
    recoveries,
    unsuited_agents,
    with_brine,
    with_drying,
    with_enough_portions,
    with_streams,
    with_stripping,
)
from .prose import renamed_plan, renamed_texts
from .swapping import swapped
from .variant import Variant

_GOAL_STEP = 0.05


class VariantDoesNotFit(ValueError):
    """The variant cannot be made of this exercise; the message says why."""


@dataclass(frozen=True)
class Varied:
    """The exercise as changed, and what its author should know, one sentence each."""

    exercise: Exercise
    notes: tuple[str, ...]


def varied(exercise: Exercise, variant: Variant, seed: int = 0) -> Varied:
    """The exercise in another form; equal arguments give an equal exercise.

    ``seed`` stands for a student: it decides the amounts that differ from one to the next.
    Raises VariantDoesNotFit.
    """
    swaps = {swap.old: swap.new for swap in variant.swaps}
    _check(exercise, swaps, variant)
    try:
        found = _swapped_in(exercise, swaps, variant) if swaps else Varied(exercise, ())
        larger = scaled_exercise(found.exercise, variant.scale)
        return Varied(for_student(larger, variant, seed), found.notes)
    except (MissingFlask, UnknownMaterial, NotConverged, ArithmeticError) as error:
        raise VariantDoesNotFit(f"the plan cannot be carried out with it: {error}") from error


def for_student(exercise: Exercise, variant: Variant, seed: int) -> Exercise:
    """A changed exercise with one student's own amounts in it."""
    return spread_amounts(exercise, variant.spreads, seed)


def _check(exercise: Exercise, swaps: dict[str, str], variant: Variant) -> None:
    known = exercise.setup.tables
    reagents = {r.substance for r in exercise.setup.reaction.reagents}
    used = reagents | set(exercise.setup.materials)
    used |= {t.substance for t in exercise.setup.targets}
    used |= {p.substance for p in exercise.setup.reaction.products}
    for old, new in swaps.items():
        if old not in used:
            raise VariantDoesNotFit(f"{_name(old, exercise)} is not in this exercise")
        if _kind(old, known) != _kind(new, known):
            raise VariantDoesNotFit(
                f"{_name(new, exercise)} cannot take the place of {_name(old, exercise)}: one is "
                f"{_kind(old, known)}, the other {_kind(new, known)}"
            )
    if WATER in swaps:
        raise VariantDoesNotFit("water cannot be exchanged")
    missing = [s.substance for s in variant.spreads if s.substance not in reagents]
    if missing:
        name = known.material_name(missing[0])
        raise VariantDoesNotFit(f"{name} is not a reagent of this exercise")


def _kind(key: str, known: Tables) -> str:
    if key in known.solvents:
        return "a solvent"
    if key in known.agents:
        return "a drying agent"
    if key in known.solutions:
        return "a solution"
    return "a substance" if key in known.substances or key in known.salts else "unknown"


def _name(key: str, exercise: Exercise) -> str:
    return material_name(key, exercise)


def _swapped_in(exercise: Exercise, swaps: dict[str, str], variant: Variant) -> Varied:
    other = swapped(exercise, swaps)
    setup = replace(other.setup, materials=_materials(other.setup, swaps))
    change = Change(swaps, setup.materials, variant.most_portions)
    lab, first = Lab(setup), Lab(exercise.setup)
    phases = kept_phases(first, exercise.model_plan)
    model = _followed(renamed_plan(other.model_plan, exercise, swaps), lab, change, phases)
    setup = _with_funnel(_with_goals(setup, model, lab), fullest_mL(model, lab))
    flipped = _flipped(exercise.model_plan, model)
    texts, left_out = renamed_texts(exercise, swaps, layers_changed=bool(flipped))
    made = replace(
        other,
        setup=setup,
        model_plan=model,
        alternatives=tuple(_alternatives(exercise, other, change, Lab(setup))),
        choices=_choices(exercise, change),
        texts=replace(texts, cautions=(*texts.cautions, *_cautions(other, change))),
    )
    for plan in (made.model_plan, *made.alternatives):
        problems = check_plan(plan, made)
        if problems:
            raise VariantDoesNotFit(problems[0].message)
    reached = {key: share for key, (share, _) in recoveries(model, lab).items()}
    return Varied(made, tuple(_notes(exercise, made, change, reached, flipped, left_out)))


def _materials(setup: Setup, swaps: dict[str, str]) -> tuple[str, ...]:
    """The materials, with brine and a mild agent where they may be needed, without the unsuited."""
    added = tuple(dict.fromkeys((*setup.materials, BRINE, MILD_AGENT)))
    unsuited = unsuited_agents(Change(swaps, added, 1), setup.tables) - {MILD_AGENT}
    return tuple(key for key in added if key not in unsuited)


def _followed(plan: Plan, lab: Lab, change: Change, phases: dict[str, str]) -> Plan:
    plan = keeping_phases(plan, lab, phases)
    plan = with_enough_portions(plan, lab, change)
    plan = with_brine(keeping_phases(plan, lab, phases), lab, change)
    plan = with_drying(keeping_phases(plan, lab, phases), lab, change)
    return with_streams(with_stripping(plan, lab, change), change)


def _with_goals(setup: Setup, model: Plan, lab: Lab) -> Setup:
    """Goals that can be reached: lowered to the next step of 5 % below what the plan recovers."""
    found = recoveries(model, lab)

    def goal(substance: str, old: float) -> float:
        reached = found.get(substance, (1.0, old))[0]
        return old if reached >= old else round(_GOAL_STEP * int(reached / _GOAL_STEP), 2)

    return replace(
        setup,
        targets=tuple(
            replace(t, recovery_goal=goal(t.substance, t.recovery_goal)) for t in setup.targets
        ),
    )


def _with_funnel(setup: Setup, fullest: float) -> Setup:
    needed = fullest / FUNNEL_WELL_FILLED
    if needed <= setup.glassware.funnel_mL:
        return setup
    if needed > FUNNELS_mL[-1]:
        raise VariantDoesNotFit("no funnel is large enough for the solvent it takes")
    return replace(setup, glassware=replace(setup.glassware, funnel_mL=funnel_for(needed)))


def _alternatives(exercise: Exercise, other: Exercise, change: Change, lab: Lab) -> Iterator[Plan]:
    """The other routes that still lead to the goal; one that cannot be followed is left out."""
    first = Lab(exercise.setup)
    for old, plan in zip(exercise.alternatives, other.alternatives, strict=True):
        try:
            phases = kept_phases(first, old)
            followed = _followed(renamed_plan(plan, exercise, change.swaps), lab, change, phases)
            if goals_are_reached(followed, lab):
                yield followed
        except (MissingFlask, UnknownMaterial, NotConverged, ArithmeticError):
            continue


def _choices(exercise: Exercise, change: Change) -> tuple[Choice, ...]:
    """Whether brine is expected follows from the solvents; every other choice stays."""
    wetter = [new for old, new in change.solvents.items() if is_wet(new) and not is_wet(old)]
    drier = [new for old, new in change.solvents.items() if is_wet(old) and not is_wet(new)]
    if not wetter and not drier:
        return exercise.choices
    value, name = ("expected", wetter[0]) if wetter else ("free", drier[0])
    much = "much" if wetter else "hardly any"
    reason = f"{_capital(substance_word(name, exercise.setup.tables))} takes up {much} water."
    rest = tuple(choice for choice in exercise.choices if choice.key != BRINE)
    return (*rest, Choice(BRINE, value, reason))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _cautions(exercise: Exercise, change: Change) -> Iterator[str]:
    """A line for everything hazardous that came in."""
    others = [new for old, new in change.swaps.items() if old not in change.solvents]
    for new in others:
        words = hazard_words(material_hazards(new, exercise))
        if words:
            yield f"{_capital(material_name(new, exercise))}: {joined(words)}."
    for new in change.solvents.values():
        facts = material_facts(new, exercise)
        name = _capital(substance_word(new, exercise.setup.tables))
        if facts.is_halogenated:
            yield (
                f"{name}: hood and gloves; it and all that was shaken with it go to halogenated "
                "waste."
            )
        elif facts.flammable:
            yield f"{name} is flammable: no flames and no hotplate. Vent early and often."
        if facts.forms_peroxides:
            yield f"{name} forms peroxides: only tested solvent, never to dryness if in doubt."


def _flipped(before: Plan, after: Plan) -> list[str]:
    """Ids of the shakes that keep the other layer now."""
    old = {s.id: getattr(s, "keep", "") for s in before.steps}
    return [s.id for s in after.steps if getattr(s, "keep", old.get(s.id)) != old.get(s.id, s.id)
            and s.id in old]


def _notes(
    before: Exercise,
    after: Exercise,
    change: Change,
    reached: dict[str, float],
    flipped: list[str],
    left_out: tuple[str, ...],
) -> Iterator[str]:
    known = after.setup.tables
    for new in change.solvents.values():
        for target in after.setup.targets:
            yield _partition_note(target.substance, new, after.setup)
    yield from _chemistry_notes(before, after, change)
    if flipped:
        count = f"{len(flipped)} shakes keep" if len(flipped) > 1 else "one shake keeps"
        yield f"The organic layer has changed its place: {count} the other layer."
    for was, is_now in zip(before.setup.targets, after.setup.targets, strict=True):
        if is_now.recovery_goal < was.recovery_goal:
            share = percent(reached[is_now.substance])
            yield (
                f"{share} of the {substance_word(is_now.substance, known)} can be extracted within "
                f"the bounds; the goal is {percent(is_now.recovery_goal)} instead of "
                f"{percent(was.recovery_goal)}."
            )
    funnel = after.setup.glassware.funnel_mL
    if funnel != before.setup.glassware.funnel_mL:
        yield f"The funnel has to hold more: {amount(funnel, 'mL')}."
    dropped = len(before.alternatives) - len(after.alternatives)
    if dropped:
        yield f"{dropped} of the other routes cannot be followed any more and are left out."
    gone = len(before.setup.values) - len(after.setup.values)
    if gone:
        yield f"{gone} of your own values named what is gone and do not count any more."
    if left_out:
        yield f"Left out of the texts, please read them: {joined([f'“{s}”' for s in left_out])}."


def _chemistry_notes(before: Exercise, after: Exercise, change: Change) -> Iterator[str]:
    """What the simulation does not know about a new solvent, for a chemist to judge."""
    known = after.setup.tables
    reagents = {r.substance for r in before.setup.reaction.reagents}
    used = {key for s in after.model_plan.steps for key in s.materials()}
    bases = [material_name(k, after) for k in used if material_facts(k, after).is_strong_base]
    for old, new in change.solvents.items():
        name = substance_word(new, known)
        if old in reagents:
            yield (
                f"The reaction itself is run in {name} now, in place of "
                f"{substance_word(old, known)}: whether it can be is not computed."
            )
        if bases and "ester" in known.substances[new].classes:
            yield f"{_capital(name)} is itself attacked by {joined(sorted(bases))}; not computed."


def _partition_note(substance: str, solvent: str, setup: Setup) -> str:
    known = setup.tables
    quantity = partition_quantity(known.substances[substance], solvent, setup)
    name, of = substance_word(substance, known), substance_word(solvent, known)
    if quantity is None:
        return f"{_capital(name)} does not go into {of}."
    K = significant(10.0**quantity.value, 2)
    return f"K of {name} between {of} and water: {K} ({GRADE_WORDS[quantity.grade]})."
