"""Planted mistakes: what students plan wrongly, made to any exercise it applies to.

Numbers are those of the student errors and precedences that ``workups/grading/rules/__init__.py``
lists. Each mistake says which rule should name it, and when it matters: whether what it does can be
seen in the computed amounts at all, worked out here from the runs and not from any rule. A mistake
that does nothing (one portion where one is enough) must not be found heavy, which is tested too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from workups.chemistry.kinds import needs_brine
from workups.chemistry.measures import TargetMeasure
from workups.chemistry.plan import (
    WASTE,
    Add,
    Adjust,
    Collect,
    Cool,
    Discard,
    Dry,
    Extract,
    Filter,
    Label,
    Parting,
    Plan,
    Step,
    Strip,
    Tare,
    Transfer,
    Wash,
    Weigh,
)
from workups.exercise.exercise import Exercise
from workups.grading.case import Case
from workups.grading.modelrun import model_run
from workups.grading.orphans import without_orphans
from workups.grading.rules.extraction import plan_recovery
from workups.grading.rules.rewriting import without_washes

Change = Callable[[Case], Plan | None]
Matters = Callable[[Case, Case], bool]
DRAWS = 24
FORGOTTEN = "other extract"


@dataclass(frozen=True)
class Mistake:
    """A mistake by its catalogue number: the plan with it, its rule, and when it matters."""

    number: str
    name: str
    change: Change
    rules: frozenset[str]
    matters: Matters


@dataclass(frozen=True)
class Planted:
    """A mistake made to the model plan of an exercise."""

    mistake: Mistake
    exercise: Exercise
    plan: Plan
    matters: bool


def model_case(exercise: Exercise) -> Case:
    """The model plan of an exercise, carried out."""
    return Case(exercise, exercise.model_plan, model_run(exercise, 1, DRAWS))


def planted(exercise: Exercise) -> Iterator[Planted]:
    """Every mistake that applies to an exercise."""
    model = model_case(exercise)
    for mistake in MISTAKES:
        plan = mistake.change(model)
        if plan is None or plan == exercise.model_plan:
            continue
        yield Planted(mistake, exercise, plan, mistake.matters(model, model.changed(plan)))


# --- when a mistake matters --------------------------------------------------------------------


def always(_model: Case, _case: Case) -> bool:
    """Bookkeeping and safety: no computed amount is needed."""
    return True


def _pairs(model: Case, case: Case) -> Iterator[tuple[TargetMeasure, TargetMeasure]]:
    yield from zip(model.measures(), case.measures(), strict=True)


def loses(least: float) -> Matters:
    """Some target is lost, by so much of what there was."""
    return lambda model, case: any(
        float(a.share[0] - b.share[0]) >= least for a, b in _pairs(model, case))


def left_in(flask: str, least: float) -> Matters:
    """A flask that is never used again holds so much of some target."""
    return lambda _model, case: any(
        case.share_in(case.run.end, flask, t) >= least for t in case.targets)


def shaken_at(least_C: float) -> Matters:
    """Something in a funnel is as warm as this; ether boils at 35 °C."""
    return lambda _model, case: any(
        s.celsius >= least_C for _, _, shakes in case.partings() for s in shakes)


def weighs_more(kind: str, least: float) -> Matters:
    """Something foreign of a kind is weighed with the product, by so much of its mass."""
    def matters(model: Case, case: Case) -> bool:
        def share(m: TargetMeasure) -> float:
            return float(getattr(m, f"{kind}_g")[0] / max(float(m.product_g[0]), 1e-9))
        return any(share(b) - share(a) >= least for a, b in _pairs(model, case))
    return matters


def below_goal(_model: Case, case: Case) -> bool:
    """The extraction of some target stays below the goal, at the upper edge of its band."""
    found = [plan_recovery(case, t) for t in case.targets]
    return any(f is not None and f.high < f.goal for f in found)


def gas_at_least(least_mL: float) -> Matters:
    """Some closed shake makes so much gas, at the upper end."""
    return lambda _model, case: any(
        float(np.percentile(case.gas_mL(s.gas_mmol), 95)) >= least_mL
        for _, step, shakes in case.partings() if not step.swirl_open for s in shakes)


def carbonate_overtaxed(_model: Case, case: Case) -> bool:
    """The first carbonate washes give more gas than the exercise allows, or end acidic."""
    shakes = [s for _, step, found in case.partings() if isinstance(step, Wash)
              and case.is_carbonate(step.material) for s in found]
    gas = sum(float(case.gas_mL(s.gas_mmol)[0]) for s in shakes)
    limit = float(case.exercise.choice("co2_limit_mL"))
    return bool(shakes) and (gas >= limit or float(shakes[-1].pH[0]) < 6.0)


def adjusting_gas(_model: Case, case: Case) -> bool:
    """A hundred millilitres of gas or more where acid is poured to carbonate."""
    return any(
        facts.gas_mmol is not None and float(case.gas_mL(facts.gas_mmol)[0]) >= 100.0
        for _, step, facts in case.steps() if isinstance(step, Adjust) and not step.slowly)


def agent_short(_model: Case, case: Case) -> bool:
    """A weighed amount of agent that, as computed, leaves it clumped and is less than what takes
    the water up in nine draws of ten, the loose rest aside. A pinch that does it all does no harm.
    """
    loose_g = case.inventory.practice["loose_g"]
    return any(
        facts.drying is not None and facts.drying.agent_look != "free-flowing"
        and np.mean(facts.drying.mass_g < facts.drying.needed_g - loose_g) >= 0.9
        for _, step, facts in case.steps() if isinstance(step, Dry)
        and step.endpoint == "weighed")


def more_agent_needed(factor: float) -> Matters:
    """The drying agent has so many times the work."""
    def need(case: Case) -> float:
        return sum(float(f.drying.needed_g[0]) for _, _, f in case.steps()
                   if f.drying is not None)
    return lambda model, case: need(case) >= factor * need(model)


def brine_asked_for(matters: Matters) -> Matters:
    """Where the exercise leaves brine free, or the solvent holds next to no water (hexane,
    dichloromethane, none at all), to leave it out is no mistake."""
    return lambda model, case: (case.exercise.choice("brine") != "free" and _wet_solvent(model)
                                and matters(model, case))


def _wet_solvent(case: Case) -> bool:
    inv = case.inventory
    volumes = {s: float(inv.molar_volume[inv.index[s]] * max(
        (case.before(i).flasks[step.flask].organic[inv.index[s], 0]
         for i, step, _ in case.steps() if isinstance(step, Dry)), default=0.0))
        for s in inv.solvents}
    return needs_brine(volumes, inv.tables)


def filled_above(most: float) -> Matters:
    """Some funnel is fuller than this share."""
    return lambda _model, case: any(
        float(s.fill[0]) > most for _, _, shakes in case.partings() for s in shakes)


def puddle_of(least_mL: float) -> Matters:
    """So much water stands under a layer that a drying agent goes to: not all has dissolved."""
    return lambda _model, case: any(
        float(case.inventory.volume_mL(case.before(i).flasks[step.flask].aqueous)[0]) >= least_mL
        for i, step, _ in case.steps() if isinstance(step, Dry))


def held_by_agent(least: float) -> Matters:
    """So much of a target stays on a drying agent."""
    def matters(_model: Case, case: Case) -> bool:
        flasks = {s.flask for s in case.plan.steps if isinstance(s, Dry)}
        return any(case.share_in(case.run.end, f, t) >= least
                   for f in flasks for t in case.targets if f in case.run.end.flasks)
    return matters


def mixed(least: float) -> Matters:
    """A target's flask holds another target, by so much of its own mass."""
    def share(case: Case, target: str, other: str) -> float:
        inv = case.inventory
        end = next(m for m in case.measures() if m.target == target)
        row = inv.index[other]
        grams = case.run.end.flasks[end.flask].total()[row, 0] * inv.molar_mass[row] * 1e-3
        return float(grams / max(float(end.product_g[0]), 1e-9))
    return lambda _model, case: any(
        share(case, t, o) >= least for t in case.targets for o in case.targets if t != o)


def either(*ways: Matters) -> Matters:
    """Any of some ways to matter."""
    return lambda model, case: any(way(model, case) for way in ways)


# --- the mistakes ------------------------------------------------------------------------------


def _of(case: Case, kind: type[Step]) -> list[Step]:
    return [s for s in case.plan.steps if isinstance(s, kind)]


def _first(case: Case, kind: type[Step]) -> Step | None:
    return next(iter(_of(case, kind)), None)


def _last(case: Case, kind: type[Step]) -> Step | None:
    return next(reversed(_of(case, kind)), None)


def _everywhere(case: Case, kind: type[Step], **changes: object) -> Plan:
    return Plan(tuple(
        replace(s, **changes) if isinstance(s, kind) else s for s in case.plan.steps))


def _washes(case: Case, fits: Callable[[str], bool]) -> list[Wash]:
    return [s for s in case.plan.steps if isinstance(s, Wash) and fits(s.material)]


def _changing(pick: Callable[[Case], Step | None], **changes: object) -> Change:
    def change(case: Case) -> Plan | None:
        step = pick(case)
        return None if step is None else case.plan.replacing(replace(step, **changes))
    return change


def _leaving_out(pick: Callable[[Case], Step | None]) -> Change:
    def change(case: Case) -> Plan | None:
        step = pick(case)
        if step is None:
            return None
        if isinstance(step, Wash):
            return without_washes(case.plan, step.id)
        return case.plan.without(step.id)
    return change


def _first_of(kind: type[Step]) -> Callable[[Case], Step | None]:
    return lambda case: _first(case, kind)


def _last_of(kind: type[Step]) -> Callable[[Case], Step | None]:
    return lambda case: _last(case, kind)


def _carbonate(case: Case) -> Step | None:
    return next(iter(_washes(case, case.is_carbonate)), None)


def _brine(case: Case) -> Step | None:
    return next(iter(_washes(case, case.is_brine)), None)


def _wrong_layer_kept(case: Case) -> Plan | None:
    extract = _first(case, Extract)
    if not isinstance(extract, Extract):
        return None
    keep = "lower" if extract.keep == "upper" else "upper"
    return case.plan.replacing(replace(extract, keep=keep))


def _layer_to_waste(case: Case) -> Plan | None:
    """The layer with the product is poured away at the first wash."""
    wash = next((s for i, s in case.product_washes() if s.keep_in == s.flask), None)
    if wash is None:
        return None
    keep = "lower" if wash.keep == "upper" else "upper"
    changed = replace(wash, keep=keep, other_in=WASTE, portions=1)
    return without_orphans(case.plan.replacing(changed))


def _solvent_to_solvent(case: Case) -> Plan | None:
    extract = _first(case, Extract)
    if not isinstance(extract, Extract):
        return None
    again = replace(extract, id=case.plan.free_id("again"), flask=extract.keep_in, portions=1)
    return case.plan.inserting(case.plan.index(extract.id) + 1, again)


def _one_instead(same_total: bool) -> Change:
    def change(case: Case) -> Plan | None:
        many = [s for s in _of(case, Extract) if isinstance(s, Extract) and s.portions > 1]
        if not many:
            return None
        step = many[0]
        volume = step.volume_mL * (step.portions if same_total else 1)
        return case.plan.replacing(replace(step, portions=1, volume_mL=volume))
    return change


def _extract_forgotten(case: Case) -> Plan | None:
    many = [s for s in _of(case, Extract) if isinstance(s, Extract) and s.portions > 1]
    if not many:
        return None
    step = many[0]
    rest = replace(step, id=case.plan.free_id("rest"), flask=step.other_in,
                   keep_in=FORGOTTEN, portions=step.portions - 1)
    plan = case.plan.replacing(replace(step, portions=1))
    return plan.inserting(plan.index(step.id) + 1, rest)


def _no_rinses(case: Case) -> Plan | None:
    return Plan(tuple(replace(s, rinses=0) if isinstance(s, Filter | Transfer) else s
                      for s in case.plan.steps))


def _warm(case: Case) -> Plan | None:
    return case.plan.without(*(s.id for s in _of(case, Cool))) if _of(case, Cool) else None


def _overfilled(case: Case) -> Plan | None:
    steps = tuple(replace(s, volume_mL=4 * s.volume_mL) if isinstance(s, Add | Extract) else s
                  for s in case.plan.steps)
    return Plan(steps)


def _no_labels(case: Case) -> Plan | None:
    return case.plan.without(*(s.id for s in _of(case, Label)))


def _flasks_swapped(case: Case) -> Plan | None:
    """The two layers with the salts are taken for each other when the pH is changed."""
    adjusts = [s for s in _of(case, Adjust) if isinstance(s, Adjust)]
    if len(adjusts) < 2:
        return None
    one, two = adjusts[:2]
    return case.plan.replacing(replace(one, flask=two.flask)).replacing(
        replace(two, flask=one.flask))


def _salt_poured_away(number: int) -> Change:
    """The washings that hold a product as its salt go to the waste."""
    def change(case: Case) -> Plan | None:
        adjusts = [s for s in _of(case, Adjust) if isinstance(s, Adjust)]
        if len(adjusts) <= number:
            return None
        flask = adjusts[number].flask
        if not any(isinstance(s, Parting) and s.other_in == flask for s in case.plan.steps):
            return None
        gone = {flask}
        steps: list[Step] = []
        for step in case.plan.steps:
            if isinstance(step, Parting) and step.other_in == flask and step.flask not in gone:
                steps.append(replace(step, other_in=WASTE))
            elif getattr(step, "flask", "") in gone:
                gone |= {getattr(step, n, "") for n in ("keep_in", "other_in", "into")} - {""}
                if isinstance(step, Collect):
                    gone.add(step.filtrate_in)
            elif not (isinstance(step, Discard) and step.flask in gone):
                steps.append(step)
        return Plan(tuple(s for s in steps if not (
            isinstance(s, Tare | Weigh | Strip) and s.flask in gone)))
    return change


def _hydroxide(case: Case) -> Plan | None:
    wash = _carbonate(case)
    sensitive = {r.substrate for r in case.exercise.setup.slow_reactions}
    strong = [m for m in case.exercise.setup.materials if case.is_strong_base(m)]
    if wash is None or not strong or not sensitive & set(case.targets):
        return None
    return case.plan.replacing(replace(wash, material=strong[0]))


def _runs_out(case: Case) -> Plan | None:
    """A tenth of the acid or base that takes a component out."""
    adjusts = [s.flask for s in _of(case, Adjust) if isinstance(s, Adjust)]
    wash = next((s for s in _of(case, Wash) if isinstance(s, Wash) and s.other_in in adjusts
                 and case.bottle(s.material).components), None)
    return None if wash is None else case.plan.replacing(
        replace(wash, volume_mL=wash.volume_mL / 5, portions=1))


def _adjust(number: int) -> Callable[[Case], Step | None]:
    def pick(case: Case) -> Step | None:
        found = _of(case, Adjust)
        return found[number] if len(found) > number else None
    return pick


def _water_first_left_out(case: Case) -> Plan | None:
    """No water before the carbonate: neither the dilution nor the washes."""
    carbonate = _carbonate(case)
    if carbonate is None:
        return None
    at = case.plan.index(carbonate.id)
    water = [s.id for s in case.plan.steps[:at] if getattr(s, "material", "") == "water"]
    plan = case.plan.without(*(i for i in water if isinstance(
        case.plan.steps[case.plan.index(i)], Add)))
    washes = [i for i in water if isinstance(case.plan.steps[case.plan.index(i)], Wash)]
    return without_washes(plan, *washes) if washes else plan


def _brine_early(case: Case) -> Plan | None:
    """The brine of a layer before the wash that comes before it."""
    washes = [s for s in _of(case, Wash) if isinstance(s, Wash)]
    for before, brine in pairwise(washes):
        if case.is_brine(brine.material) and not case.is_brine(before.material) and (
                before.keep_in == brine.flask):
            first = replace(brine, flask=before.flask, keep_in=before.flask)
            rest = case.plan.without(brine.id)
            return rest.inserting(rest.index(before.id), first)
    return None


def _poured_not_filtered(case: Case) -> Plan | None:
    step = _first(case, Filter)
    return case.plan.replacing(Transfer(id=step.id, flask=step.flask, into=step.into)) if (
        isinstance(step, Filter)) else None


def _thick_cake(case: Case) -> Plan | None:
    step = _first(case, Dry)
    return Plan(tuple(
        replace(s, endpoint="weighed", mass_g=25.0) if s is step
        else replace(s, rinses=0) if isinstance(s, Filter) else s
        for s in case.plan.steps)) if step else None


def _puddle(case: Case) -> Plan | None:
    step = _first(case, Dry)
    if not isinstance(step, Dry):
        return None
    water = Add(id=case.plan.free_id("puddle"), flask=step.flask, material="water", volume_mL=8.0)
    return case.plan.inserting(case.plan.index(step.id), water)


def _agent_to_water(case: Case) -> Plan | None:
    step, wash = _first(case, Dry), _brine(case)
    if not isinstance(step, Dry) or not isinstance(wash, Wash):
        return None
    taken = any(wash.other_in in s.takes() for s in case.plan.steps[:case.plan.index(step.id)])
    return None if taken else case.plan.replacing(replace(step, flask=wash.other_in))


def _wrong_agent(case: Case) -> Plan | None:
    """An agent that binds what it dries, where the exercise offers one."""
    tables = case.inventory.tables
    for i, step, _ in case.steps():
        if not isinstance(step, Dry):
            continue
        target = case.main_target(case.before(i), step.flask)
        bad = [a for a, agent in case.inventory.agents.items()
               if agent.incompatible & tables.substances[target].classes]
        if bad:
            return case.plan.replacing(replace(step, agent=bad[0], mass_g=2.0))
    return None


def _powder_decanted(case: Case) -> Plan | None:
    step, dry = _first(case, Filter), _first(case, Dry)
    known = case.inventory.tables.substances
    classes = frozenset().union(*(known[t].classes for t in case.targets))
    powders = [a for a, agent in case.inventory.agents.items()
               if not agent.decantable and not agent.incompatible & classes]
    if step is None or dry is None or not powders:
        return None
    plan = case.plan.replacing(replace(step, method="decant"))
    return plan.replacing(replace(dry, agent=powders[0]))


def _dried_before_brine(case: Case) -> Plan | None:
    dry, wash = _first(case, Dry), _brine(case)
    if dry is None or wash is None:
        return None
    rest = case.plan.without(dry.id)
    moved = replace(dry, flask=wash.flask)
    return rest.inserting(rest.index(wash.id), moved)


def _hard_strip(case: Case) -> Plan | None:
    step = _first(case, Strip)
    return case.plan.replacing(
        replace(step, bath_C=60.0, pressure_mbar=5.0, hold_min=60.0)) if step else None


def _weighed_early(case: Case) -> Plan | None:
    strip = _first(case, Strip)
    weigh = next((s for s in _of(case, Weigh) if strip and s.flask == strip.flask), None)
    return case.plan.moving(weigh.id, case.plan.index(strip.id)) if weigh and strip else None


def _streams_swapped(case: Case) -> Plan | None:
    other = {"acid": "base", "base": "acid"}
    return Plan(tuple(
        replace(s, stream=other.get(s.stream, s.stream)) if isinstance(s, Discard) else s
        for s in case.plan.steps))


def _washings_to_waste(case: Case) -> Plan | None:
    wash = _brine(case)
    return None if wash is None else Plan(tuple(
        replace(s, other_in=WASTE) if s is wash else s for s in case.plan.steps
        if not (isinstance(s, Discard) and s.flask == wash.other_in)))


def _mistake(number: str, name: str, change: Change, rules: str, matters: Matters) -> Mistake:
    return Mistake(number, name, change, frozenset(rules.split()), matters)


MISTAKES: tuple[Mistake, ...] = (
    _mistake("1", "wrong layer kept", _wrong_layer_kept, "product-layer-put-aside", always),
    _mistake("1", "product layer to the waste", _layer_to_waste, "product-layer-put-aside",
             always),
    _mistake("4", "solvent into the solvent layer", _solvent_to_solvent, "one-layer-only", always),
    _mistake("5", "one portion, same total", _one_instead(True), "recovery-below-goal",
             below_goal),
    _mistake("6", "one portion of several", _one_instead(False), "recovery-below-goal",
             below_goal),
    _mistake("8", "no rinses", _no_rinses, "cake-not-rinsed", held_by_agent(0.01)),
    _mistake("9", "an extract forgotten", _extract_forgotten, "extract-left-behind",
             left_in(FORGOTTEN, 0.03)),
    _mistake("14", "not vented", lambda c: _everywhere(c, Parting, vent=False), "not-vented",
             always),
    _mistake("15", "carbonate stoppered", _changing(_carbonate, swirl_open=False),
             "carbonate-stoppered", gas_at_least(20.0)),
    _mistake("16", "warm into the funnel", _warm, "warm-into-funnel", shaken_at(31.0)),
    _mistake("17", "funnel overfilled", _overfilled, "funnel-too-full",
             filled_above(0.75)),
    _mistake("18", "no labels", _no_labels, "not-labelled", always),
    _mistake("18", "flasks swapped", _flasks_swapped, "not-set-free", loses(0.05)),
    _mistake("25", "salt poured away", _salt_poured_away(0), "product-washed-out", always),
    _mistake("26", "the other salt poured away", _salt_poured_away(1), "product-washed-out",
             always),
    _mistake("27", "hydroxide on an ester", _hydroxide, "strong-base-on-ester", always),
    _mistake("31", "acid or base runs out", _runs_out, "targets-not-separated", mixed(0.05)),
    _mistake("32", "pH 7 is not enough", _changing(_adjust(0), until_pH=7.0), "not-set-free",
             loses(0.05)),
    _mistake("32", "pH 7 is not enough, the other", _changing(_adjust(1), until_pH=7.0),
             "not-set-free", loses(0.05)),
    _mistake("32", "pH not changed", _leaving_out(_adjust(0)), "not-set-free", loses(0.05)),
    _mistake("32", "pH not changed, the other", _leaving_out(_adjust(1)), "not-set-free",
             loses(0.05)),
    _mistake("33", "acid poured in fast", lambda c: _everywhere(c, Adjust, slowly=False),
             "poured-in-too-fast", adjusting_gas),
    _mistake("34", "no carbonate wash", _leaving_out(_carbonate),
             "acid-left-in-product targets-not-separated", either(
                 weighs_more("acid", 0.01), mixed(0.05))),
    _mistake("35", "no water before the carbonate", _water_first_left_out,
             "carbonate-before-water", carbonate_overtaxed),
    _mistake("39", "no brine", _leaving_out(_brine), "no-brine",
             brine_asked_for(more_agent_needed(1.2))),
    _mistake("40", "brine early", _brine_early, "brine-not-last", brine_asked_for(always)),
    _mistake("45", "no drying agent", _leaving_out(_first_of(Dry)), "not-dried", always),
    _mistake("45", "no drying agent, the last", _leaving_out(_last_of(Dry)), "not-dried", always),
    _mistake("46", "a pinch of agent",
             _changing(_first_of(Dry), endpoint="weighed", mass_g=0.1), "too-little-agent",
             agent_short),
    _mistake("46", "a pinch of agent, the last",
             _changing(_last_of(Dry), endpoint="weighed", mass_g=0.1), "too-little-agent",
             agent_short),
    _mistake("47", "half a minute over the agent", _changing(_first_of(Dry), minutes=0.5),
             "too-short-drying", always),
    _mistake("48", "a thick cake", _thick_cake, "too-much-agent cake-not-rinsed",
             held_by_agent(0.01)),
    _mistake("50", "a puddle under the layer", _puddle, "visible-water", puddle_of(1.0)),
    _mistake("51", "agent into the water layer", _agent_to_water, "wrong-layer-dried", always),
    _mistake("52", "an agent that binds the product", _wrong_agent, "agent-incompatible",
             loses(0.01)),
    _mistake("53", "not filtered", _poured_not_filtered, "agent-not-filtered", always),
    _mistake("54", "a powder decanted", _powder_decanted, "powder-decanted", always),
    _mistake("55", "dried before the last wash", _dried_before_brine, "wet-again-after-drying",
             always),
    _mistake("56", "no tare", lambda c: c.plan.without(*(s.id for s in _of(c, Tare))),
             "flask-not-tared", always),
    _mistake("58", "stripped too hard", _hard_strip, "product-boiled-off", loses(0.10)),
    _mistake("59", "no hold at the end", _changing(_last_of(Strip), hold_min=0.0), "solvent-left",
             weighs_more("solvent", 0.02)),
    _mistake("59", "never stripped", _leaving_out(_last_of(Strip)), "never-stripped solvent-left",
             weighs_more("solvent", 0.02)),
    _mistake("P20", "weighed before stripping", _weighed_early, "weighed-before-stripping",
             always),
    _mistake("P20", "never weighed", _leaving_out(_last_of(Weigh)), "never-weighed", always),
    _mistake("P26", "washings poured away at once", _washings_to_waste, "poured-away-early",
             always),
    _mistake("44", "acid to the base, base to the acid", _streams_swapped, "wrong-waste-stream",
             always),
)
