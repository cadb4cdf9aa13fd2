"""Plans with one planning mistake each, for demos: what students get wrong before the bench."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise

from workups.chemistry.draws import Draws
from workups.chemistry.plan import (
    LAYERS,
    Dry,
    Extract,
    Filter,
    Kind,
    Label,
    Plan,
    Strip,
    Tare,
    Transfer,
    Wash,
)
from workups.chemistry.run import prepare
from workups.exercise.exercise import Exercise
from workups.grading.case import Case
from workups.grading.rules.rewriting import without_washes

Mistake = Callable[[Case], Plan | None]


def planning_mistakes(exercise: Exercise) -> Mapping[str, Plan]:
    """The model plan with one mistake in each, by a short name; only those that apply."""
    case = Case(exercise, exercise.model_plan, prepare(exercise.setup, Draws(1, 1)))
    found = {name: mistake(case) for name, mistake in _MISTAKES.items()}
    return {n: p for n, p in found.items() if p is not None and p != exercise.model_plan}


def _water_wash_skipped(case: Case) -> Plan | None:
    washes = [s.id for s in case.plan.of(Wash) if s.material == "water"]
    return without_washes(case.plan, washes[0]) if washes else None


def _brine_early(case: Case) -> Plan | None:
    """The brine of a layer comes before the other wash that should precede it."""
    washes = case.plan.of(Wash)
    for before, brine in pairwise(washes):
        same_layer = before.keep_in == brine.flask
        if same_layer and case.is_brine(brine.material) and not case.is_brine(before.material):
            early = replace(brine, flask=before.flask, keep_in=before.flask)
            rest = case.plan.without(brine.id)
            return rest.inserting(rest.index(before.id), early)
    return None


def _little_agent(case: Case) -> Plan | None:
    dry = _first(case, Dry)
    little = replace(dry, endpoint="weighed", mass_g=0.3) if dry else None
    return case.plan.replacing(little) if little else None


def _no_agent(case: Case) -> Plan | None:
    dry = _first(case, Dry)
    return case.plan.without(dry.id) if dry else None


def _carbonate_closed(case: Case) -> Plan | None:
    """The carbonate wash is stoppered at once and not vented."""
    steps = [
        replace(s, swirl_open=False, vent=False)
        if isinstance(s, Wash) and case.is_carbonate(s.material)
        else s
        for s in case.plan.steps
    ]
    return Plan(tuple(steps))


def _no_rinse(case: Case) -> Plan | None:
    steps = [
        replace(s, rinses=0) if isinstance(s, Filter | Transfer) else s for s in case.plan.steps
    ]
    return Plan(tuple(steps))


def _not_tared(case: Case) -> Plan | None:
    return case.plan.without(*(s.id for s in case.plan.of(Tare)))


def _not_labelled(case: Case) -> Plan | None:
    return case.plan.without(*(s.id for s in case.plan.of(Label)))


def _one_portion(case: Case) -> Plan | None:
    many = [s for s in case.plan.of(Extract) if s.portions > 1]
    return case.plan.replacing(replace(many[0], portions=1)) if many else None


def _strip_before_filter(case: Case) -> Plan | None:
    """The drying agent goes along into the flask that is stripped."""
    filters = case.plan.of(Filter)
    if not filters:
        return None
    first = filters[0]
    return case.plan.replacing(Transfer(id=first.id, flask=first.flask, into=first.into))


def _short_strip(case: Case) -> Plan | None:
    strips = case.plan.of(Strip)
    last = replace(strips[-1], hold_min=0.0) if strips else None
    return case.plan.replacing(last) if last else None


def _hard_strip(case: Case) -> Plan | None:
    """Far hotter and longer than the solvent needs."""
    strips = case.plan.of(Strip)
    last = replace(strips[-1], bath_C=90.0, pressure_mbar=5.0, hold_min=60.0) if strips else None
    return case.plan.replacing(last) if last else None


def _wrong_layer(case: Case) -> Plan | None:
    """After the last wash the other layer is taken for the product's."""
    washes = case.plan.of(Wash)
    if not washes:
        return None
    other = next(k for k in LAYERS if k != washes[-1].keep)
    return case.plan.replacing(replace(washes[-1], keep=other))


def _first(case: Case, kind: type[Kind]) -> Kind | None:
    return next(iter(case.plan.of(kind)), None)


_MISTAKES: Mapping[str, Mistake] = {
    "water-wash-skipped": _water_wash_skipped,
    "brine-early": _brine_early,
    "too-little-agent": _little_agent,
    "no-agent": _no_agent,
    "carbonate-stoppered": _carbonate_closed,
    "no-rinse": _no_rinse,
    "not-tared": _not_tared,
    "not-labelled": _not_labelled,
    "one-portion": _one_portion,
    "agent-not-filtered": _strip_before_filter,
    "no-hold-at-the-end": _short_strip,
    "stripped-hard": _hard_strip,
    "wrong-layer": _wrong_layer,
}
