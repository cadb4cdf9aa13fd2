"""Seeded random variations of a plan that do no harm: what sensible people do differently."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import fields, replace

from workups.chemistry.plan import (
    START_FLASK,
    WASTE,
    Combine,
    Cool,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Stand,
    Step,
    Tare,
    Transfer,
    Wash,
)
from workups.chemistry.plan import Test as TestStep
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise

Variation = Callable[[Plan, Exercise, random.Random], Plan | None]
MOST_AT_ONCE = 3
SAFE_LOG_K = 1.5


def varied(exercise: Exercise, seed: int) -> tuple[Plan, tuple[str, ...]]:
    """The model plan with one to three variations, and their names."""
    dice = random.Random(seed)  # noqa: S311 (a test's dice, no secret)
    plan, names = exercise.model_plan, []
    wanted = dice.randint(1, MOST_AT_ONCE)
    for name in dice.sample(sorted(VARIATIONS), len(VARIATIONS)):
        changed = VARIATIONS[name](plan, exercise, dice)
        if changed is not None and changed != plan:
            plan, names = changed, [*names, name]
        if len(names) == wanted:
            break
    return plan, tuple(names)


def _all(plan: Plan, kind: type[Step]) -> list[Step]:
    return [s for s in plan.steps if isinstance(s, kind)]


def _brines(plan: Plan) -> list[Wash]:
    return [s for s in plan.steps if isinstance(s, Wash) and s.material == "brine"]


def _aqueous_washes(plan: Plan) -> list[Wash]:
    return [s for s in plan.steps if isinstance(s, Wash) and s.material not in tables().solvents]


def _in_place(plan: Plan, step: Step, *new: Step) -> Plan:
    at = plan.index(step.id)
    return plan.without(step.id).inserting(at, *new)


def _water_takes_it(exercise: Exercise) -> bool:
    """Whether plain water takes enough of a product for an extra wash to cost something."""
    known = tables()
    return any(
        known.substances[t.substance].partition[s].value < SAFE_LOG_K
        for t in exercise.setup.targets for s in exercise.setup.materials if s in known.solvents)


def _extra_water(plan: Plan, exercise: Exercise, dice: random.Random) -> Plan | None:
    if "water" not in exercise.setup.materials or not _brines(plan) or _water_takes_it(exercise):
        return None
    brine = dice.choice(_brines(plan))
    water = replace(
        brine, id=plan.free_id("extra-water"), material="water", portions=dice.choice((1, 2)),
        volume_mL=float(dice.choice((10, 15, 20))), keep_in=brine.flask, other_in="extra washings",
    )
    return plan.inserting(plan.index(brine.id), water)


def _second_brine(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    if not _brines(plan):
        return None
    brine = dice.choice(_brines(plan))
    again = replace(brine, id=plan.free_id("second-brine"), flask=brine.keep_in)
    return plan.inserting(plan.index(brine.id) + 1, again)


def _early_brine(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Brine against an emulsion before another wash of the same layer."""
    if not _brines(plan):
        return None
    last = _brines(plan)[0]
    before = [w for w in _aqueous_washes(plan)
              if w.keep_in == last.flask == w.flask and plan.index(w.id) < plan.index(last.id)]
    if not before:
        return None
    first = dice.choice(before)
    early = replace(last, id=plan.free_id("early-brine"), flask=first.flask, keep_in=first.flask)
    return plan.inserting(plan.index(first.id), early)


def _one_more_portion(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    steps = [*_all(plan, Extract), *_aqueous_washes(plan)]
    step = dice.choice(steps)
    assert isinstance(step, Extract | Wash)
    return plan.replacing(replace(step, portions=step.portions + 1))


def _other_volume(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Every portion up to a fifth larger or smaller; smaller ones one more time."""
    steps = []
    for step in plan.steps:
        if isinstance(step, Extract | Wash):
            factor = dice.uniform(0.8, 1.2)
            more = 1 if factor < 1 else 0
            volume = round(step.volume_mL * factor, 1)
            steps.append(replace(step, volume_mL=volume, portions=step.portions + more))
        else:
            steps.append(step)
    return Plan(tuple(steps))


def _longer_settling(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    return Plan(tuple(
        replace(s, settle_min=s.settle_min * dice.choice((1, 2, 5))) if isinstance(s, Parting)
        else s for s in plan.steps))


def _notes(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Labels, tests and waiting where they change nothing."""
    for number in range(dice.randint(1, 4)):
        at = dice.randrange(1, len(plan.steps))
        flask = dice.choice(sorted(_flasks_before(plan, at)))
        extra = dice.choice((
            Label(id=plan.free_id(f"more-{number}"), flask=flask, text="see notebook"),
            TestStep(id=plan.free_id(f"more-{number}"), flask=flask, how="pH paper"),
            TestStep(id=plan.free_id(f"more-{number}"), flask=flask, how="drop test"),
            Stand(id=plan.free_id(f"more-{number}"), flask=flask, minutes=5.0),
        ))
        plan = plan.inserting(at, extra)
    return plan


def _flasks_before(plan: Plan, at: int) -> set[str]:
    made = {START_FLASK}
    for step in plan.steps[:at]:
        made |= {getattr(step, n, "") for n in ("keep_in", "other_in", "into", "filtrate_in")}
        if isinstance(step, Tare):
            made.add(step.flask)
    return made - {"", WASTE}


def _other_method(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Decant from a granular agent instead of filtering, or filter instead of decanting."""
    filters = [s for s in plan.steps if isinstance(s, Filter)]
    step = dice.choice(filters)
    dry = next(s for s in plan.steps if isinstance(s, Dry) and s.flask == step.flask)
    if step.method == "decant":
        return plan.replacing(replace(step, method="gravity"))
    if not tables().agents[dry.agent].decantable:
        return None
    return plan.replacing(replace(step, method="decant"))


def _tare_early(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    tare = dice.choice(_all(plan, Tare))
    return plan.moving(tare.id, dice.randint(0, plan.index(tare.id)))


def _one_more_rinse(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    return Plan(tuple(
        replace(s, rinses=s.rinses + 1, rinse_mL=s.rinse_mL + dice.choice((0.0, 1.0)))
        if isinstance(s, Filter) else s for s in plan.steps))


def _halves(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """A wash as twice as many portions of half the volume."""
    wash = dice.choice(_aqueous_washes(plan))
    return plan.replacing(replace(wash, volume_mL=wash.volume_mL / 2, portions=2 * wash.portions))


def _separate_portions(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Several portions written as several steps."""
    many = [s for s in (*_all(plan, Extract), *_aqueous_washes(plan))
            if isinstance(s, Extract | Wash) and s.portions > 1]
    if not many:
        return None
    step = dice.choice(many)
    rest = step.other_in if isinstance(step, Extract) else step.keep_in
    singles = [replace(step, portions=1)]
    singles += [replace(step, id=plan.free_id(f"{step.id}-{n}"), portions=1, flask=rest)
                for n in range(2, step.portions + 1)]
    return _in_place(plan, step, *singles)


def _own_flasks(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    """Each extract in a flask of its own, combined before the next step or before drying."""
    many = [s for s in plan.steps if isinstance(s, Extract) and s.portions > 1]
    if not many:
        return None
    step = dice.choice(many)
    names = [f"extract {n}" for n in range(1, step.portions + 1)]
    singles = [
        replace(step, id=step.id if n == 0 else plan.free_id(f"{step.id}-{n + 1}"), portions=1,
                flask=step.flask if n == 0 else step.other_in, keep_in=name)
        for n, name in enumerate(names)]
    together = Combine(id=plan.free_id("combine"), flasks=tuple(names), into=step.keep_in)
    return _in_place(plan, step, *singles, together)


def _poured_over(plan: Plan, exercise: Exercise, dice: random.Random) -> Plan | None:
    """The mixture is brought to another flask and rinsed over."""
    solvents = [m for m in exercise.setup.materials if m in tables().solvents]
    extract = next((s for s in plan.steps if isinstance(s, Extract)), None)
    if extract is None or extract.flask != START_FLASK:
        return None
    over = Transfer(id=plan.free_id("pour"), flask=START_FLASK, into="big flask",
                    rinse_with=solvents[0], rinse_mL=3.0, rinses=dice.choice((1, 2)))
    return _in_place(plan, extract, over, replace(extract, flask="big flask"))


def _other_agent(plan: Plan, exercise: Exercise, dice: random.Random) -> Plan | None:
    """Another agent that leaves the products alone, with its time, filtered."""
    known = tables()
    classes = frozenset().union(*(known.substances[t.substance].classes
                                  for t in exercise.setup.targets))
    fits = [m for m in exercise.setup.materials
            if m in known.agents and not known.agents[m].incompatible & classes]
    if not fits:
        return None
    dry = dice.choice([s for s in plan.steps if isinstance(s, Dry)])
    agent = dice.choice(fits)
    minutes = max(dry.minutes, 4.0 * known.agents[agent].time_constant_min.value)
    plan = plan.replacing(replace(dry, agent=agent, minutes=minutes))
    after = next(s for s in plan.steps if isinstance(s, Filter) and s.flask == dry.flask)
    return plan.replacing(replace(after, method="gravity"))


def _longer_drying(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    return Plan(tuple(
        replace(s, minutes=s.minutes * dice.choice((1, 2, 60)), mass_g=dice.choice((0.3, 0.5, 1)))
        if isinstance(s, Dry) and s.endpoint == "free-flowing" else s for s in plan.steps))


def _colder(plan: Plan, _exercise: Exercise, dice: random.Random) -> Plan | None:
    return Plan(tuple(
        replace(s, to_C=float(dice.choice((0, 5, 15)))) if isinstance(s, Cool) else s
        for s in plan.steps))


def _renamed(plan: Plan, exercise: Exercise, _dice: random.Random) -> Plan | None:
    """Every flask but the first and the ones the exercise names under a number of its own."""
    kept = {START_FLASK, WASTE, "", *(t.flask for t in exercise.setup.targets)}
    names: dict[str, str] = {}

    def name(old: str) -> str:
        return old if old in kept else names.setdefault(old, f"Erlenmeyer {len(names) + 1}")

    steps = []
    for step in plan.steps:
        changes: dict[str, object] = {
            f.name: name(getattr(step, f.name)) for f in fields(step)
            if f.name in ("flask", "keep_in", "other_in", "into", "filtrate_in")}
        if isinstance(step, Combine):
            changes["flasks"] = tuple(name(f) for f in step.flasks)
        steps.append(replace(step, **changes))
    return Plan(tuple(steps))


VARIATIONS: dict[str, Variation] = {
    "extra water wash": _extra_water,
    "second brine": _second_brine,
    "early brine": _early_brine,
    "one more portion": _one_more_portion,
    "other volumes": _other_volume,
    "longer settling": _longer_settling,
    "labels, tests, waiting": _notes,
    "decant or filter": _other_method,
    "tare early": _tare_early,
    "one more rinse": _one_more_rinse,
    "half volumes twice": _halves,
    "portions as steps": _separate_portions,
    "extracts in own flasks": _own_flasks,
    "poured over": _poured_over,
    "another agent": _other_agent,
    "longer drying": _longer_drying,
    "colder": _colder,
    "flasks renamed": _renamed,
}
