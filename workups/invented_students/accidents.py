"""How a slip of technique comes about: the plan as it was really carried out.

Only what changes the run is here; losses and leftovers that act on the end stand in ``truth``.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from workups.chemistry.draws import Draws
from workups.chemistry.kinds import bottle
from workups.chemistry.plan import (
    Add,
    Collect,
    Dry,
    Extract,
    Filter,
    Parting,
    Plan,
    Rinse,
    Step,
    Strip,
    Transfer,
    Wash,
)
from workups.chemistry.run import simulate
from workups.chemistry.setup import Setup, Spread
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.grading.rules.rewriting import without_washes

from .crossing import carried
from .habits import shortfall


@dataclass(frozen=True)
class Accident:
    """One way a slip can come about: the plan and the setup as they really were.

    ``hit`` is the target it concerns, empty where it may be any; ``size`` how much goes wrong,
    over what is usual for the slip.
    """

    slip: str
    plan: Plan
    setup: Setup
    hit: str = ""
    size: float = 1.0


Variants = Callable[[Exercise, Plan, float], tuple[Plan, ...]]
EndVariants = Callable[[Exercise, Plan, float], tuple[tuple[Plan, str], ...]]


def possible_accidents(
    exercise: Exercise, plan: Plan, slip: str, size: float = 1.0
) -> tuple[Accident, ...]:
    """All ways in which a slip can come about with a plan, equally likely; none: it cannot."""
    if slip == "incomplete-reaction":
        return _less_turned_over(exercise, plan, size)
    if slip in _AT_THE_END:
        found = _AT_THE_END[slip](exercise, plan, size)
        return tuple(Accident(slip, p, exercise.setup, hit, size) for p, hit in found)
    changed = _CHANGES.get(slip, _unchanged)(exercise, plan, size)
    return tuple(Accident(slip, p, exercise.setup, size=size) for p in changed)


def can_happen(exercise: Exercise, plan: Plan, slip: str) -> bool:
    """Whether a slip can come about with a plan; cheaper than all ways in which it can."""
    if slip == "too-little-agent":
        return bool(plan.of(Dry))
    return bool(possible_accidents(exercise, plan, slip))


def _unchanged(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return (plan,)


def _needs_parting(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return (plan,) if plan.of(Parting) else ()


def _needs_crossing(exercise: Exercise, plan: Plan, _size: float) -> tuple[tuple[Plan, str], ...]:
    """Somewhere a product has to go from one layer to the other."""
    run = simulate(plan, exercise.setup, Draws(1, 1))
    targets = [t.substance for t in exercise.setup.targets]
    return tuple((plan, t) for t in targets for _ in carried(run, t, 0)[:1])


def _needs_portions(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return (plan,) if _many_portions(plan) else ()


def _needs_powder(exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    agents = tables().agents
    powder = any(agents[s.agent].form == "powder" for s in plan.of(Dry))
    return (plan,) if powder and _filters(exercise, plan) else ()


def _many_portions(plan: Plan) -> list[Extract]:
    return [s for s in plan.of(Extract) if s.portions > 1]


def _single(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return tuple(
        plan.replacing(replace(s, portions=1, volume_mL=s.volume_mL * s.portions))
        for s in _many_portions(plan)
    )


def _one_fewer(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return tuple(
        plan.replacing(replace(s, portions=s.portions - 1))
        for s in _many_portions(plan)
        if s.portions > 2
    )


def _only_first(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return tuple(plan.replacing(replace(s, portions=1)) for s in _many_portions(plan))


def _more_washing(_exercise: Exercise, plan: Plan, size: float) -> tuple[Plan, ...]:
    washes = [s for s in plan.of(Wash) if s.material == "water"]
    return tuple(
        plan.replacing(
            replace(
                s,
                portions=s.portions + max(1, round(more * size)),
                volume_mL=(1.0 + 0.5 * size) * s.volume_mL,
            )
        )
        for s in washes
        for more in (2, 4)
    )


def _no_rinse(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    def bare(step: Step) -> Step:
        return replace(step, rinses=0) if isinstance(step, Filter | Transfer) else step

    steps = tuple(bare(s) for s in plan.steps if not isinstance(s, Rinse))
    return (Plan(steps),) if steps != plan.steps else ()


def _no_agent(_exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return tuple(plan.without(s.id) for s in plan.of(Dry))


def _little_agent(exercise: Exercise, plan: Plan, size: float) -> tuple[Plan, ...]:
    """A quarter or half (at the usual size) of what would have been needed, and left at that."""
    run = simulate(plan, exercise.setup, Draws(1, 1))
    found = []
    for _, step, outcome in run.of(Dry):
        drying = outcome.facts.drying
        if drying is not None:
            need = float(drying.needed_g[0])
            for share in (0.25, 0.5):
                little = max(0.1, round(shortfall(share, size) * need, 1))
                found.append(plan.replacing(replace(step, endpoint="weighed", mass_g=little)))
    return tuple(found)


def _filters(_exercise: Exercise, plan: Plan) -> list[Filter]:
    dried = {s.flask for s in plan.of(Dry)}
    return [s for s in plan.of(Filter) if s.flask in dried]


def _not_filtered(exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    return tuple(
        plan.replacing(Transfer(id=s.id, flask=s.flask, into=s.into))
        for s in _filters(exercise, plan)
    )


def _last_of(exercise: Exercise, plan: Plan) -> list[tuple[Strip | Collect, str]]:
    """The step that each target's flask gets its product dry by, with the target."""
    ends = [s for s in plan.steps if isinstance(s, Strip | Collect)]
    found: list[tuple[Strip | Collect, str]] = []
    for target in exercise.setup.targets:
        own = [s for s in ends
               if target.flask in ("", *(s.carries_on_in() or s.takes()))]
        found += [(own[-1], target.substance)] if own else []
    return found


def _stopped_early(exercise: Exercise, plan: Plan, size: float) -> tuple[tuple[Plan, str], ...]:
    """Not held at the end, at the pressure planned or at one that never came down so far."""

    def early(step: Strip | Collect, times: float) -> Step:
        if isinstance(step, Collect):
            return replace(step, air_dry_min=step.air_dry_min / (1.0 + times))
        if step.method != "rotary":
            return replace(step, hold_min=step.hold_min * 0.4 / times)
        return replace(step, hold_min=0.0, pressure_mbar=min(step.pressure_mbar * times, 900.0))

    return tuple(
        (plan.replacing(early(s, max(1.0, times * size))), target)
        for s, target in _last_of(exercise, plan)
        for times in (1.0, 3.0, 6.0, 12.0)
    )


def _too_long(exercise: Exercise, plan: Plan, size: float) -> tuple[tuple[Plan, str], ...]:
    def long(step: Strip, more: float) -> Step:
        return replace(step, hold_min=step.hold_min + more * size, bath_C=step.bath_C + 25.0 * size)

    return tuple(
        (plan.replacing(long(s, more)), target)
        for s, target in _last_of(exercise, plan)
        if isinstance(s, Strip)
        for more in (45.0, 150.0)
    )


def _weighed_warm(exercise: Exercise, plan: Plan, _size: float) -> tuple[tuple[Plan, str], ...]:
    return tuple((plan, t) for s, t in _last_of(exercise, plan) if isinstance(s, Strip))


def _carried_over(_exercise: Exercise, plan: Plan, size: float) -> tuple[Plan, ...]:
    """Some of the last wash stays with the layer that is dried."""
    found = []
    for step in plan.of(Dry):
        at = plan.index(step.id)
        poured = [key for s in plan.of(Parting, at) for key in s.materials()]
        aqueous = [key for key in poured if key not in tables().solvents]
        what = aqueous[-1] if aqueous else "water"
        found += [
            plan.inserting(
                at, Add(id="carried", flask=step.flask, material=what, volume_mL=v * size)
            )
            for v in (0.7, 2.5)
        ]
    return tuple(found)


def _no_base_wash(exercise: Exercise, plan: Plan, _size: float) -> tuple[Plan, ...]:
    sources = {s.acts_on for s in plan.steps if s.verb not in ("discard", "test")}

    def basic(step: Wash) -> bool:
        if step.keep_in != step.flask or step.other_in in sources:
            return False
        return bottle(step.material, exercise.setup).is_base

    washes = [s.id for s in plan.of(Wash) if basic(s)]
    return (without_washes(plan, *washes),) if washes else ()


def _less_turned_over(exercise: Exercise, plan: Plan, size: float) -> tuple[Accident, ...]:
    setup = exercise.setup
    usual = setup.reaction.conversion.nominal
    if not setup.reaction.products or usual <= 0:
        return ()

    def with_conversion(share: float) -> Setup:
        spread = Spread(share * 0.97, share, share * 1.03)
        return replace(setup, reaction=replace(setup.reaction, conversion=spread))

    return tuple(
        Accident(
            "incomplete-reaction", plan, with_conversion(usual * shortfall(part, size)), size=size
        )
        for part in (0.45, 0.6, 0.75)
    )


_CHANGES: Mapping[str, Variants] = {
    "single-portion": _single,
    "one-portion-fewer": _one_fewer,
    "later-extractions-skipped": _only_first,
    "layer-partly-lost": _needs_parting,
    "wrong-layer": _needs_parting,
    "wash-took-product": _more_washing,
    "no-rinse": _no_rinse,
    "no-agent": _no_agent,
    "too-little-agent": _little_agent,
    "agent-in-flask": _not_filtered,
    "fines": _needs_powder,
    "aqueous-carried-over": _carried_over,
    "acid-left": _no_base_wash,
    "volume-read-early": _needs_portions,
}

# Those that concern one target, most of them at its end.
_AT_THE_END: Mapping[str, EndVariants] = {
    "not-mixed": _needs_crossing,
    "solvent-left": _stopped_early,
    "not-constant": _stopped_early,
    "product-evaporated": _too_long,
    "weighed-warm": _weighed_warm,
}
