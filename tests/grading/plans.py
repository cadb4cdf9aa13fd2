"""Seeded plans that the plan form accepts, edits that do harm, and spellings that change nothing.

``random_plan`` fills in steps of every kind from their declarations, with flask names sensible and
silly; ``edited_plan`` makes a few changes to a route that is right. Both depend on the seed alone.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from functools import cache
from pathlib import Path

import numpy as np

from workups.chemistry.draws import Draws
from workups.chemistry.plan import (
    START_FLASK,
    STEP_KINDS,
    WASTE,
    Combine,
    Discard,
    Dry,
    Extract,
    FieldKind,
    FieldSpec,
    Filter,
    Label,
    Parting,
    Plan,
    Step,
    Strip,
    Transfer,
    Wash,
    Weigh,
    field_specs,
)
from workups.chemistry.plan import Test as TestStep
from workups.chemistry.run import Run, continue_run, prepare
from workups.documents import check_plan, library_exercise, library_names, load_exercise
from workups.documents.names import known_names
from workups.exercise.exercise import Exercise

PROCEDURES = Path(__file__).parents[1] / "data" / "procedures"
LONGEST = 60
SENSIBLE = ("ether layer", "aqueous layer", "organic layer", "extracts", "washings", "flask A",
            "flask B", "spent brine", "round-bottom flask", "vial", "acid washings")
SILLY = ("?", "Waste", "the waste", "product", "upper", "lower", "Kolben 7", "烧瓶", "a b  c",
         "keep this!!", "reaction flask 2", "0", "<b>", "l'éther", "not the product")
FLASK_FIELDS = ("flask", "keep_in", "other_in", "into", "filtrate_in")

Dice = random.Random
Edit = Callable[[Plan, Exercise, Dice], Plan | None]


def dice_of(seed: int) -> Dice:
    """A test's dice."""
    return random.Random(seed)  # noqa: S311 (no secret)


@cache
def every_exercise() -> tuple[Exercise, ...]:
    """The library's exercises and the published procedures of the tests' data."""
    published = (load_exercise(p.read_text(encoding="utf-8"))
                 for p in sorted(PROCEDURES.glob("*.toml")))
    return (*(library_exercise(n) for n in library_names()), *published)


# --- random plans ------------------------------------------------------------------------------


def random_plan(exercise: Exercise, seed: int, longest: int = LONGEST) -> Plan:
    """From one to ``longest`` steps of any kind that the form accepts, most plans short."""
    dice = dice_of(seed)
    length = max(1, round(longest ** dice.random()))
    steps: list[Step] = []
    flasks = [START_FLASK]
    for number in range(length):
        step = random_step(exercise, flasks, dice, f"s{number}")
        steps.append(step)
        flasks += [f for f in _made(step) if f not in flasks]
    return Plan(tuple(steps))


def random_step(
    exercise: Exercise, flasks: list[str], dice: Dice, key: str,
    kinds: Sequence[type[Step]] = tuple(STEP_KINDS.values()),
) -> Step:
    """A step of any kind (or one of some) on flasks that exist, that the form accepts."""
    while True:
        kind = dice.choice(kinds)
        values = {name: _value(spec, exercise, flasks, dice)
                  for name, spec in field_specs(kind).items()}
        if any(value is None for value in values.values()):
            continue
        step = kind(id=key, **values)
        if not (isinstance(step, Parting) and step.keep_in == step.other_in):
            return step


def _value(spec: FieldSpec, exercise: Exercise, flasks: list[str], dice: Dice) -> object:
    ways: Mapping[FieldKind, Callable[[], object]] = {
        FieldKind.FLASK: lambda: _flask(spec, flasks, dice),
        FieldKind.FLASKS: lambda: tuple(dice.sample(flasks, dice.randint(1, min(3, len(flasks))))),
        FieldKind.MATERIAL: lambda: _material(spec, exercise, dice),
        FieldKind.CHOICE: lambda: dice.choice(spec.choices),
        FieldKind.FLAG: lambda: dice.random() < 0.5,
        FieldKind.TEXT: lambda: dice.choice(("", "", "see notebook", "??", "<i>é</i>")),
        FieldKind.COUNT: lambda: _count(spec, dice),
        FieldKind.QUANTITY: lambda: _number(*_ends(spec), dice),
    }
    return ways[spec.kind]()


def _ends(spec: FieldSpec) -> tuple[float, float]:
    assert spec.low is not None
    assert spec.high is not None
    return spec.low, spec.high


def _count(spec: FieldSpec, dice: Dice) -> int:
    low, high = map(int, _ends(spec))
    return dice.choice((low, min(2, high), min(3, high), high))


def _number(low: float, high: float, dice: Dice) -> float:
    """Mostly what people write, now and then the ends of what the form takes."""
    roll = dice.random()
    if roll < 0.1:
        return float(dice.choice((low, high)))
    if low <= 0 or roll < 0.3:
        return round(dice.uniform(low, min(high, 60.0)), 1)
    ends = math.log(low), math.log(min(high, 200.0))
    return round(max(low, math.exp(dice.uniform(*ends))), 2)


def _flask(spec: FieldSpec, flasks: list[str], dice: Dice) -> str:
    if not spec.produces or dice.random() < 0.5:
        return dice.choice(flasks)
    if spec.may_be_waste and dice.random() < 0.2:
        return WASTE
    return dice.choice(SILLY if dice.random() < 0.3 else SENSIBLE)


def _material(spec: FieldSpec, exercise: Exercise, dice: Dice) -> str | None:
    own = tuple(m.key for m in exercise.setup.own_materials)
    fits = known_names().with_own(own).of_role(spec.role)
    offered = [m for m in (*exercise.setup.materials, *own) if m in fits]
    if spec.optional and (not offered or dice.random() < 0.3):
        return ""
    return dice.choice(offered) if offered else None


def _made(step: Step) -> list[str]:
    return [value for _, spec, value in step.fields()
            if spec.produces and value and value != WASTE]


# --- routes that are right, with a few changes -------------------------------------------------


def edited_plan(exercise: Exercise, seed: int, most: int = 4) -> Plan:
    """A right route with one to ``most`` changes; the form accepts what comes out."""
    dice = dice_of(seed)
    plan = dice.choice((exercise.model_plan, exercise.model_plan, *exercise.alternatives))
    wanted = dice.randint(1, most)
    done = 0
    for _ in range(40):
        changed = dice.choice(EDITS)(plan, exercise, dice)
        if changed is None or changed == plan or not changed.steps:
            continue
        if len(changed.steps) <= LONGEST and check_plan(changed, exercise) == []:
            plan, done = changed, done + 1
        if done == wanted:
            break
    return plan


def any_plan(exercise: Exercise, seed: int) -> Plan:
    """One plan of either kind: two edited ones for each random one."""
    return random_plan(exercise, seed) if seed % 3 == 0 else edited_plan(exercise, seed)


def _drop(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan:
    return plan.without(dice.choice(plan.steps).id)


def _drop_and_follow(plan: Plan, exercise: Exercise, dice: Dice) -> Plan:
    """A step left out, with every later step that has then no flask to act on."""
    left = _drop(plan, exercise, dice)
    while problems := {p.step_id for p in check_plan(left, exercise)}:
        left = left.without(*problems)
    return left


def _move(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan:
    return plan.moving(dice.choice(plan.steps).id, dice.randrange(len(plan.steps)))


def _refill(plan: Plan, exercise: Exercise, dice: Dice) -> Plan | None:
    """One field of one step filled in otherwise."""
    step = dice.choice(plan.steps)
    name, spec, _ = dice.choice(list(step.fields()))
    flasks = _existing(plan, plan.index(step.id))
    value = _value(spec, exercise, flasks, dice)
    return None if value is None else plan.replacing(replace(step, **{name: value}))


def _insert(plan: Plan, exercise: Exercise, dice: Dice) -> Plan:
    at = dice.randint(0, len(plan.steps))
    return plan.inserting(at, random_step(
        exercise, _existing(plan, at), dice, plan.free_id("extra")))


def _repeat(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan:
    step = dice.choice(plan.steps)
    return plan.inserting(plan.index(step.id) + 1, replace(step, id=plan.free_id("again")))


def _stop_early(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan:
    return Plan(plan.steps[:dice.randint(1, len(plan.steps))])


EDITS: tuple[Edit, ...] = (
    _drop, _drop, _drop_and_follow, _drop_and_follow, _move, _refill, _refill, _refill, _insert,
    _insert, _repeat, _stop_early)


def _existing(plan: Plan, at: int) -> list[str]:
    flasks = [START_FLASK]
    for step in plan.steps[:at]:
        flasks += [f for f in _made(step) if f not in flasks]
    return flasks


# --- what a plan does, without any rule --------------------------------------------------------


@cache
def _start(exercise_key: str, draws: int) -> Run:
    exercise = next(e for e in every_exercise() if e.key == exercise_key)
    return prepare(exercise.setup, Draws(1, draws))


def carried_out(exercise: Exercise, plan: Plan, draws: int = 1) -> Run:
    """The plan carried out with the nominal constants and ``draws`` - 1 drawn ones."""
    return continue_run(_start(exercise.key, draws), plan)


def weighed_mmol(run: Run, component: str) -> float:
    """What was in any flask when it was weighed last, summed over the flasks; mean of the draws
    [mmol]."""
    row = run.inventory.index[component]
    last = {o.step.flask: o.after for o in run.outcomes if isinstance(o.step, Weigh)}
    return sum(float(after.flasks[flask].total()[row].mean())
               for flask, after in last.items() if flask in after.flasks)


def weighed_shares(exercise: Exercise, run: Run) -> dict[str, float]:
    """Share of each target, of what there was at the start, that was weighed in any flask."""
    start = run.start.everything()
    return {t.substance: weighed_mmol(run, t.substance) / max(
        float(start[run.inventory.index[t.substance]].mean()), 1e-12)
        for t in exercise.setup.targets}


def weighed_foreign_g(exercise: Exercise, run: Run) -> dict[str, float]:
    """Grams of each component but the targets in the weighed flasks."""
    targets = {t.substance for t in exercise.setup.targets}
    molar = run.inventory.molar_mass
    return {key: weighed_mmol(run, key) * float(molar[row]) * 1e-3
            for key, row in run.inventory.index.items() if key not in targets}


# --- edits that do harm ------------------------------------------------------------------------


def _smaller_extraction(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Extract, dice)
    if not isinstance(step, Extract):
        return None
    fewer = replace(step, portions=1, volume_mL=round(
        max(0.5, step.volume_mL * dice.choice((0.1, 0.3, 1.0))), 1))
    return plan.replacing(fewer)


def _wash_it_out(plan: Plan, exercise: Exercise, dice: Dice) -> Plan | None:
    """The layer that is dried is washed before it with something that may take the product."""
    dry = _one(plan, Dry, dice)
    offered = [m for m in exercise.setup.materials if m in known_names().solutions or m == "water"]
    if dry is None or not offered:
        return None
    shake = next((s for s in plan.steps if isinstance(s, Parting) and s.keep_in == dry.flask), None)
    if shake is None:
        return None
    wash = Wash(id=plan.free_id("harm"), flask=dry.flask, material=dice.choice(offered),
                volume_mL=dice.choice((20.0, 60.0, 100.0)), portions=dice.choice((1, 3)),
                keep=shake.keep, keep_in=dry.flask, other_in=dice.choice(("harmful", WASTE)))
    return plan.inserting(plan.index(dry.id), wash)


def _wrong_layer(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Parting, dice)
    if not isinstance(step, Parting):
        return None
    return plan.replacing(replace(step, keep="lower" if step.keep == "upper" else "upper"))


def _part_tipped_out(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """A flask is thrown away before something is taken from it."""
    step = dice.choice(plan.steps)
    flask = getattr(step, "flask", "")
    if not flask or isinstance(step, Discard):
        return None
    tip = Discard(id=plan.free_id("harm"), flask=flask, stream="non_halogenated")
    return plan.inserting(plan.index(step.id), tip)


def _left_on_the_agent(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Filter, dice)
    return None if step is None else plan.without(step.id)


def _stripped_hard(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Strip, dice)
    return None if step is None else plan.replacing(replace(
        step, bath_C=90.0, pressure_mbar=1.0, hold_min=240.0))


def _water_into_product(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """A layer that was put aside goes into the flask that is filtered into."""
    filtered = _one(plan, Filter, dice)
    if not isinstance(filtered, Filter):
        return None
    aside = [s.other_in for s in plan.steps[:plan.index(filtered.id)]
             if isinstance(s, Parting) and s.other_in != WASTE]
    if not aside:
        return None
    return plan.inserting(plan.index(filtered.id) + 1, Transfer(
        id=plan.free_id("harm"), flask=dice.choice(aside), into=filtered.into))


def _not_stripped(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Strip, dice)
    return None if step is None else plan.without(step.id)


def _not_filtered(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Filter, dice)
    return None if not isinstance(step, Filter) else plan.replacing(
        Transfer(id=step.id, flask=step.flask, into=step.into))


HARM: Mapping[str, Edit] = {
    "smaller extraction": _smaller_extraction,
    "washed out": _wash_it_out,
    "wrong layer": _wrong_layer,
    "tipped out": _part_tipped_out,
    "left on the agent": _left_on_the_agent,
    "stripped hard": _stripped_hard,
    "water layer into the product": _water_into_product,
    "not stripped": _not_stripped,
    "not filtered": _not_filtered,
}


def _not_dried(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    step = _one(plan, Dry, dice)
    return None if step is None else plan.without(step.id)


def _not_washed(plan: Plan, _exercise: Exercise, _dice: Dice) -> Plan | None:
    """No wash that keeps its layer in the flask it came from."""
    washes = [s.id for s in plan.steps if isinstance(s, Wash) and s.keep_in == s.flask]
    return plan.without(*washes) if washes else None


# What puts something beside the product into the flask that is weighed, or leaves it there.
FOUL: Mapping[str, Edit] = {
    "left on the agent": _left_on_the_agent,
    "water layer into the product": _water_into_product,
    "not stripped": _not_stripped,
    "not filtered": _not_filtered,
    "not dried": _not_dried,
    "not washed": _not_washed,
}


def fouled(plan: Plan, exercise: Exercise, seed: int) -> tuple[str, Plan] | None:
    """The plan with something that is weighed beside the product; None where nothing applies."""
    return _changed(FOUL, plan, exercise, seed)


def harmed(plan: Plan, exercise: Exercise, seed: int) -> tuple[str, Plan] | None:
    """The plan with one more thing done wrong, and its name; None where nothing applies."""
    return _changed(HARM, plan, exercise, seed)


def _changed(
    edits: Mapping[str, Edit], plan: Plan, exercise: Exercise, seed: int
) -> tuple[str, Plan] | None:
    """The first of some edits, in an order of the seed, that applies and that the form accepts."""
    dice = dice_of(seed)
    for name in dice.sample(sorted(edits), len(edits)):
        changed = edits[name](plan, exercise, dice)
        if changed is not None and changed != plan and len(changed.steps) <= LONGEST and (
                check_plan(changed, exercise) == []):
            return name, changed
    return None


def _one(plan: Plan, kind: type[Step], dice: Dice) -> Step | None:
    found = [s for s in plan.steps if isinstance(s, kind)]
    return dice.choice(found) if found else None


# --- spellings ---------------------------------------------------------------------------------


def _notes(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan:
    """Labels and tests anywhere, of any flask that is there."""
    for number in range(dice.randint(1, 4)):
        at = dice.randint(0, len(plan.steps))
        flask = dice.choice(_existing(plan, at))
        key = plan.free_id(f"note-{number}")
        note: Step = (Label(id=key, flask=flask, text="see notebook") if dice.random() < 0.5
                      else TestStep(id=key, flask=flask, how="pH paper"))
        plan = plan.inserting(at, note)
    return plan


def renamed(plan: Plan, names: Mapping[str, str]) -> Plan:
    """The plan with flasks under other names."""
    steps = []
    for step in plan.steps:
        changes: dict[str, object] = {
            f.name: names.get(getattr(step, f.name), getattr(step, f.name))
            for f in fields(step) if f.name in FLASK_FIELDS}
        if isinstance(step, Combine):
            changes["flasks"] = tuple(names.get(f, f) for f in step.flasks)
        steps.append(replace(step, **changes))
    return Plan(tuple(steps))


def _other_names(plan: Plan, exercise: Exercise, dice: Dice) -> Plan:
    """Every flask but those that the exercise names is called otherwise, some by each other."""
    fixed = {START_FLASK, WASTE, "", *(t.flask for t in exercise.setup.targets)}
    used = [f for f in _existing(plan, len(plan.steps)) if f not in fixed]
    new = [*used, *(f"{n} no. {i}" for i, n in enumerate(SILLY))]
    dice.shuffle(new)
    return renamed(plan, dict(zip(used, new, strict=False)))


def _never_discarded(plan: Plan, _exercise: Exercise, _dice: Dice) -> Plan:
    """Only what no later step would pour into or out of again is spared."""
    return plan.without(*(s.id for s in plan.steps if isinstance(s, Discard)
                          and not _touched(plan, s)))


def _touched(plan: Plan, tip: Discard) -> bool:
    """Whether a later step uses the flask that is emptied."""
    return any(tip.flask in _named(s) for s in plan.steps[plan.index(tip.id) + 1:])


def _named(step: Step) -> tuple[str, ...]:
    return (*(getattr(step, n, "") for n in FLASK_FIELDS), *getattr(step, "flasks", ()))


def _discarded_as_soon_as_done(plan: Plan, exercise: Exercise, dice: Dice) -> Plan:
    """Every layer put aside is thrown away where it was last used, if no later step takes it up."""
    streams = {s.flask: s.stream for s in plan.steps if isinstance(s, Discard)}
    plan = _never_discarded(plan, exercise, dice)
    for flask in dict.fromkeys(
            s.other_in for s in plan.steps if isinstance(s, Parting) and s.other_in != WASTE):
        last = max(i for i, s in enumerate(plan.steps) if flask in _named(s))
        if isinstance(plan.steps[last], Parting | Label | TestStep):
            plan = plan.inserting(last + 1, Discard(
                id=plan.free_id("tip"), flask=flask, stream=streams.get(flask, "aqueous")))
    return plan


def _singly(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """An extraction of n portions as n of one into the same flasks."""
    many = [s for s in plan.steps if isinstance(s, Extract) and s.portions > 1
            and s.other_in != WASTE]
    if not many:
        return None
    step = dice.choice(many)
    ones = [replace(step, id=plan.free_id(f"{step.id}-{n}"), portions=1,
                    flask=step.flask if n == 0 else step.other_in,
                    rinse_flask=step.rinse_flask and n == 0) for n in range(step.portions)]
    return _in_place(plan, step, *ones)


def _own_flasks(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """The same with a flask for each extract, combined afterwards; only into an empty flask."""
    many = [s for s in plan.steps if isinstance(s, Extract) and s.portions > 1
            and s.other_in != WASTE and s.keep_in not in _existing(plan, plan.index(s.id))]
    if not many:
        return None
    step = dice.choice(many)
    into = [f"extract no. {n}" for n in range(step.portions)]
    ones = [replace(step, id=plan.free_id(f"{step.id}-{n}"), portions=1, keep_in=name,
                    flask=step.flask if n == 0 else step.other_in,
                    rinse_flask=step.rinse_flask and n == 0) for n, name in enumerate(into)]
    together = Combine(id=plan.free_id("together"), flasks=tuple(into), into=step.keep_in)
    return _in_place(plan, step, *ones, together)


def _wash_as_extraction(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """A single wash as an extraction whose other layer goes on."""
    single = [s for s in plan.steps if isinstance(s, Wash) and s.portions == 1
              and s.other_in != WASTE]
    if not single:
        return None
    wash = dice.choice(single)
    taken = Extract(
        id=wash.id, note=wash.note, flask=wash.flask, material=wash.material,
        volume_mL=wash.volume_mL, portions=1, keep="lower" if wash.keep == "upper" else "upper",
        keep_in=wash.other_in, other_in=wash.keep_in, swirl_open=wash.swirl_open, vent=wash.vent,
        settle_min=wash.settle_min, interface=wash.interface)
    return plan.replacing(taken)


def _kept_in_a_new_flask(plan: Plan, exercise: Exercise, dice: Dice) -> Plan | None:
    """One shake keeps its layer in a fresh flask, and the plan goes on with that one."""
    named = {t.flask for t in exercise.setup.targets}
    same = [s for s in plan.steps if isinstance(s, Wash) and s.keep_in == s.flask
            and s.flask not in named]
    if not same:
        return None
    wash = dice.choice(same)
    at = plan.index(wash.id)
    later = renamed(Plan(plan.steps[at + 1:]), {wash.flask: "a fresh flask"})
    return Plan((*plan.steps[:at], replace(wash, keep_in="a fresh flask"), *later.steps))


def _dried_twice(plan: Plan, _exercise: Exercise, dice: Dice) -> Plan | None:
    """Half of a weighed agent, then the other half; or one portion first, then the others."""
    step = _one(plan, Dry, dice)
    if not isinstance(step, Dry):
        return None
    again = plan.free_id("dry-again")
    if step.endpoint == "weighed":
        half = replace(step, mass_g=step.mass_g / 2)
        return _in_place(plan, step, half, replace(half, id=again))
    return _in_place(plan, step, replace(step, endpoint="weighed"), replace(step, id=again))


def _put_away_after_weighing(plan: Plan, _exercise: Exercise, _dice: Dice) -> Plan | None:
    """What has been weighed goes into a sample vial when all is done."""
    last = {flask: step for step in plan.steps for flask in _named(step) if flask}
    weighed = [flask for flask, step in last.items() if isinstance(step, Weigh)]
    for number, flask in enumerate(weighed):
        plan = plan.inserting(len(plan.steps), Transfer(
            id=plan.free_id(f"put-away-{number}"), flask=flask, into=f"sample vial {number}"))
    return plan if weighed else None


def _in_place(plan: Plan, step: Step, *new: Step) -> Plan:
    at = plan.index(step.id)
    return plan.without(step.id).inserting(at, *new)


OTHER_LAYER_KEPT = "wash as extraction"
SPELLINGS: Mapping[str, Edit] = {
    "labels and tests": _notes,
    "other flask names": _other_names,
    "never discarded": _never_discarded,
    "discarded at once": _discarded_as_soon_as_done,
    "n extractions of one": _singly,
    "extracts in own flasks": _own_flasks,
    OTHER_LAYER_KEPT: _wash_as_extraction,
    "kept in a new flask": _kept_in_a_new_flask,
    "dried in two steps": _dried_twice,
    "put away after weighing": _put_away_after_weighing,
}


# What these put into flasks that would not have been used leaves its film there.
MORE_FLASKS = frozenset({"extracts in own flasks", "kept in a new flask"})
# Here a layer is poured out and back once more for each portion: of 4 mL water 1 mL stays behind.
MORE_POURING = MORE_FLASKS | {"n extractions of one"}


def makes_one_layer(exercise: Exercise, plan: Plan, draws: int) -> bool:
    """Whether some shake makes one layer: there an upper and a lower one are none, and to keep the
    one and to put the other aside are two things."""
    return any(not np.all(s.two_layers) for o in carried_out(exercise, plan, draws).outcomes
               for s in o.facts.shakes)


def on_an_edge(exercise: Exercise, before: Plan, after: Plan, draws: int) -> bool:
    """Whether in some draw a shake makes one layer in one plan and two in the other: the film that
    one more flask or one more pouring keeps may decide that, and with it everything."""
    one, two = (sum(s.two_layers for o in carried_out(exercise, plan, draws).outcomes
                    for s in o.facts.shakes) for plan in (before, after))
    return bool(np.any(one != two))


def respelled(plan: Plan, exercise: Exercise, seed: int) -> tuple[str, Plan] | None:
    """The plan written otherwise, and how; None where nothing applies."""
    return _changed(SPELLINGS, plan, exercise, seed)
