"""Hypothesis strategies for steps, plans, exercises, records and assessments.

Built from the dataclasses and the step metadata, within the ranges that the documents allow.
"""

from __future__ import annotations

import dataclasses
import types
import typing
from enum import StrEnum
from typing import Any

from hypothesis import strategies as st

from workups.chemistry.ownable import PARTITION, RATE, ownable
from workups.chemistry.plan import (
    START_FLASK,
    STEP_KINDS,
    WASTE,
    FieldKind,
    FieldSpec,
    Parting,
    Plan,
    Step,
    field_specs,
)
from workups.chemistry.practice import PRACTICE
from workups.chemistry.quantity import Quantity
from workups.chemistry.readings import (
    AGENT_LOOKS,
    LIQUID_LOOKS,
    MARKS,
    ON_PAN,
    PART_USES,
    DoneStep,
    DryingRecord,
    Readings,
    SamplePart,
    SeenVolume,
    TargetReadings,
    Weighing,
    Witness,
)
from workups.chemistry.setup import (
    Glassware,
    OwnMaterial,
    Product,
    Reaction,
    Reagent,
    Setup,
    SlowReaction,
    Spread,
    Target,
)
from workups.chemistry.substances import (
    IONISABLE_CLASSES,
    PROPERTIES,
    SUBSTANCE_CLASSES,
    Antoine,
    Property,
    Substance,
)
from workups.chemistry.tables import tables
from workups.documents.names import known_names
from workups.exercise.exercise import (
    CHECKS,
    FEEDBACK_DETAILS,
    Choice,
    Exercise,
    FeedbackPolicy,
    Rubric,
    SafetySheet,
    Texts,
)
from workups.exercise.settings import SETTINGS
from workups.grading.assessment import Assessment

OWN = OwnMaterial("own_salt", "5 % salt of our own", 1.02, {"sodium": 0.9, "chloride": 0.9})
NAMES = known_names()
_LETTERS = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp", "Zs"))

words = st.text(_LETTERS, min_size=1, max_size=30)
prose = st.text(st.one_of(_LETTERS, st.sampled_from(' \n\t"\'\\')), max_size=200)
ids = st.text("abcdefgXYZ019_-", min_size=1, max_size=20)
numbers = st.floats(allow_nan=False, allow_infinity=False)


def within(low: float | None, high: float | None) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, allow_infinity=False)


shares = within(0, 1)


def materials(role: str) -> st.SearchStrategy[str]:
    return st.sampled_from(sorted(NAMES.of_role(role)))


def _field(  # noqa: PLR0911 (one return a field kind)
        spec: FieldSpec, flasks: list[str], offered: frozenset[str] | None) -> Any:
    match spec.kind:
        case FieldKind.FLASK if spec.produces:
            return words.filter(lambda name: name != WASTE)
        case FieldKind.FLASK:
            return st.sampled_from(flasks)
        case FieldKind.FLASKS:
            return st.lists(st.sampled_from(flasks), min_size=1, max_size=3,
                            unique=True).map(tuple)
        case FieldKind.MATERIAL:
            names = NAMES.of_role(spec.role)
            allowed = sorted(names & offered) if offered is not None else sorted(names)
            return st.sampled_from(["", *allowed] if spec.optional else allowed)
        case FieldKind.QUANTITY:
            return within(spec.low, spec.high)
        case FieldKind.COUNT:
            return st.integers(int(spec.low or 0), int(spec.high or 12))
        case FieldKind.CHOICE:
            return st.sampled_from(spec.choices)
        case FieldKind.FLAG:
            return st.booleans()
        case FieldKind.TEXT:
            return prose


@st.composite
def steps(draw: st.DrawFn, kind: type[Step], flasks: list[str] | None = None, step_id: str = "",
          offered: frozenset[str] | None = None) -> Step:
    """A step whose flasks exist."""
    flasks = flasks or [START_FLASK]
    filled = {name: draw(_field(spec, flasks, offered))
              for name, spec in field_specs(kind).items()}
    if issubclass(kind, Parting):
        filled["other_in"] = draw(st.sampled_from([WASTE, f"not {filled['keep_in']}"]))
    return kind(id=step_id or draw(ids), **filled)


@st.composite
def plans(draw: st.DrawFn, offered: frozenset[str] | None = None, most: int = 8,
          least: int = 0) -> Plan:
    """A plan that only uses flasks that are there."""
    flasks, made = [START_FLASK], []
    for number in range(draw(st.integers(least, most))):
        kind = draw(st.sampled_from(list(STEP_KINDS.values())))
        step = draw(steps(kind, flasks, f"step-{number}", offered))
        made.append(step)
        flasks += [value for _, spec, value in step.fields()
                   if spec.produces and value != WASTE]
    return Plan(tuple(made))


spreads = st.lists(shares, min_size=3, max_size=3).map(lambda v: Spread(*sorted(v)))


def stated(known: Property | None) -> st.SearchStrategy[Quantity]:
    """A value in its unit and range, with an uncertainty that is not beyond all sense."""
    assert known is not None
    return within(known.low, known.high).flatmap(lambda value: st.builds(
        Quantity, st.just(value), st.just(known.unit),
        within(0, min(known.high - known.low, 100 * abs(value))), words,
        st.sampled_from("ABP"), prose))


one_amount = st.sampled_from(["mass_g", "volume_mL", "amount_mmol"]).flatmap(
    lambda name: st.fixed_dictionaries({name: within(0, 1000)}))


def reagents(substance: str) -> st.SearchStrategy[Reagent]:
    composition = st.dictionaries(materials("component"), within(0, 60), max_size=3)
    return st.builds(
        lambda amount, **more: Reagent(substance=substance, **amount, **more),
        one_amount, role=words, coefficient=within(1, 20), purity=within(0.001, 1),
        composition=composition, staff_dispensed=st.booleans())


def _constants(name: str) -> st.SearchStrategy[Quantity]:
    return stated(PROPERTIES[name])


@st.composite
def own_substances(draw: st.DrawFn) -> Substance:
    """Whatever the tables do not hold: an acid or base has its pKa, all else at least log Kow."""
    acidity = draw(st.integers(0, 3))
    constants = [draw(_constants(f"pKa{n}")) for n in range(1, acidity + 1)]
    values = {f"pKa{n}": q
              for n, q in enumerate(sorted(constants, key=lambda q: q.value), 1)}
    others = sorted(PROPERTIES.keys() - {"pKa1", "pKa2", "pKa3", "log_kow"})
    for name in ["log_kow", *draw(st.lists(st.sampled_from(others), unique=True))]:
        values[name] = draw(_constants(name))
    classes = draw(st.sets(st.sampled_from(SUBSTANCE_CLASSES)))
    return Substance(
        f"own_{draw(st.integers(0, 9))}", draw(words), draw(within(1, 5000)), draw(words),
        draw(st.sampled_from("ABP")), cas=draw(st.sampled_from(["", "50-00-0"])),
        smiles=draw(st.one_of(st.just(""), words)), charge_top=draw(st.integers(-3, acidity)),
        classes=frozenset(classes) - (frozenset() if acidity else IONISABLE_CLASSES),
        hazards=draw(st.sampled_from([(), ("H315", "EUH066")])), values=values,
        partition=draw(st.dictionaries(
            st.sampled_from(sorted(NAMES.solvents)), stated(PARTITION), max_size=2)),
        antoine=draw(st.sampled_from([None, Antoine(9.1, 1090.5, -42, 230, 330, 3, "read", "A")])))


@st.composite
def setups(draw: st.DrawFn) -> Setup:
    own = draw(st.lists(own_substances(), max_size=2, unique_by=lambda s: s.key))
    charged = draw(st.lists(materials("substance"), min_size=1, max_size=4, unique=True))
    charged += [s.key for s in own if "density" in s.values]
    made = draw(st.lists(materials("substance"), max_size=3, unique=True))
    reaction = Reaction(tuple(draw(reagents(s)) for s in charged),
                        tuple(Product(s, draw(within(0, 20))) for s in made), draw(spreads))
    aims = draw(st.lists(st.sampled_from([*charged, *made]), min_size=1, max_size=3, unique=True))
    targets = tuple(
        Target(aim, draw(st.one_of(st.just(""), words)), draw(shares), draw(shares),
               draw(st.sampled_from(["oil", "solid"]))) for aim in aims)
    liquids = draw(st.lists(materials("liquid"), min_size=1, max_size=6, unique=True))
    agents = draw(st.lists(materials("agent"), min_size=1, max_size=3, unique=True))
    slow = st.builds(SlowReaction, materials("substance"), st.sampled_from(["base", "acid"]),
                     stated(RATE), st.dictionaries(materials("component"), within(-20, 20),
                                                   max_size=3))
    value_names = st.one_of(
        st.sampled_from(sorted(PRACTICE)),
        st.builds("log10_K:{}:{}".format, materials("substance"),
                  st.sampled_from(sorted(NAMES.solvents))),
        st.sampled_from([f"pKa1:{s.key}" for s in tables().substances.values() if s.pKa]))
    replaced = draw(st.lists(value_names, max_size=3, unique=True))
    return Setup(
        reaction=reaction, targets=targets, materials=(*liquids, *agents),
        own_materials=draw(st.sampled_from([(), (OWN,)])), own_substances=tuple(own),
        glassware=draw(st.builds(Glassware, within(10, 5000), within(1e-6, 1),
                                 st.one_of(st.none(), within(0, 1)))),
        start_phase=draw(st.sampled_from(["organic", "aqueous"])), start_C=draw(within(-80, 250)),
        room_C=draw(within(5, 40)), values={name: draw(stated(ownable(name)))
                                             for name in replaced},
        slow_reactions=tuple(draw(st.lists(slow, max_size=2))), salting=draw(st.booleans()),
        cosolvent=draw(st.booleans()))


@st.composite
def settings(draw: st.DrawFn) -> Choice:
    key = draw(st.sampled_from(sorted(SETTINGS)))
    setting = SETTINGS[key]
    value = (st.sampled_from(setting.values) if setting.values
             else within(setting.low, setting.high).map(str))
    return Choice(key, draw(value), draw(prose))


safety_sheets = st.lists(
    st.builds(SafetySheet, words, st.just("https://sheets.example/7")), max_size=2).map(tuple)


@st.composite
def exercises(draw: st.DrawFn) -> Exercise:
    setup = draw(setups())
    offered = frozenset({*setup.materials, *(m.key for m in setup.own_materials)})
    lines = st.lists(words, max_size=3).map(tuple)
    return Exercise(
        key=draw(st.from_regex(r"[a-z0-9]{1,8}(-[a-z0-9]{1,8}){0,3}", fullmatch=True)),
        title=draw(words), setup=setup, model_plan=draw(plans(offered, 4, 1)),
        alternatives=tuple(draw(st.lists(plans(offered, 2, 1), max_size=2))),
        rubric=draw(st.builds(Rubric, st.dictionaries(st.sampled_from(CHECKS), within(0, 1000)),
                              shares)),
        policy=draw(st.builds(FeedbackPolicy, st.sampled_from([*FEEDBACK_DETAILS]),
                              st.integers(0, 1000))),
        choices=tuple(draw(st.lists(settings(), max_size=3, unique_by=lambda c: c.key))),
        priors=draw(st.dictionaries(words, within(0, 1000), max_size=3)),
        texts=draw(st.builds(Texts, prose, prose, prose, lines, lines, prose, safety_sheets)),
        fixed_portions=draw(st.one_of(st.none(), st.integers(1, 12))), sources=draw(lines))


some_minutes = st.one_of(st.none(), within(0, 10_000))
weighings = st.builds(
    Weighing, st.sampled_from(["tare", "gross"]), within(-1000, 10_000), st.just("7"),
    st.just(""), within(1e-6, 1), st.lists(st.sampled_from(ON_PAN), max_size=6).map(tuple),
    some_minutes)
parts = st.builds(
    SamplePart, st.sampled_from(PART_USES), within(-1000, 10_000), within(-1000, 10_000),
    within(1e-6, 1), prose)
witnesses = st.builds(
    lambda kind, text, ends, agrees: Witness(kind, text, min(ends), max(ends), agrees),
    st.sampled_from(["mp", "TLC", "IR", "odour", "appearance"]), prose,
    st.tuples(within(-100, 400), within(-100, 400)), st.sampled_from([None, True, False]))
drying_records = st.builds(
    DryingRecord, ids, st.one_of(st.none(), within(0, 1000)),
    st.one_of(st.none(), st.integers(0, 100)), st.sampled_from(["", *AGENT_LOOKS]),
    st.sampled_from(["", *LIQUID_LOOKS]), some_minutes)


@st.composite
def bench_records(draw: st.DrawFn) -> Readings:
    done = tuple(DoneStep(step, draw(st.sampled_from(MARKS)), draw(st.one_of(st.just(""), ids)),
                          draw(prose))
                 for step in draw(plans(most=3)).steps)
    target_readings = st.builds(
        TargetReadings, st.lists(weighings, max_size=3).map(tuple),
        st.lists(witnesses, max_size=2).map(tuple), prose,
        st.lists(parts, max_size=2).map(tuple))
    return Readings(
        done, draw(st.dictionaries(materials("substance"), within(0, 10_000), max_size=3)),
        draw(st.dictionaries(materials("substance"), target_readings, max_size=2)),
        tuple(draw(st.lists(drying_records, max_size=2))),
        tuple(draw(st.lists(st.builds(SeenVolume, words, words, within(0, 10_000)), max_size=3,
                            unique_by=lambda seen: (seen.step, seen.flask)))))


def of_type(hint: Any) -> st.SearchStrategy[Any]:
    """Any value of a plain dataclass type, for the assessment."""
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return st.one_of(*(st.none() if a is types.NoneType else of_type(a) for a in arguments))
    if origin is tuple and arguments[-1] is Ellipsis:
        return st.lists(of_type(arguments[0]), max_size=2).map(tuple)
    if origin is tuple:
        return st.tuples(*map(of_type, arguments))
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        return st.builds(hint, **{f.name: of_type(hints[f.name])
                                  for f in dataclasses.fields(hint)})
    if issubclass(hint, StrEnum):
        return st.sampled_from(hint)
    plain = {str: st.text(max_size=10), float: numbers, bool: st.booleans(),
             int: st.integers(-2**53, 2**53)}
    return plain[hint]


assessments = of_type(Assessment)
