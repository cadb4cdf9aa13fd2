"""The plan of a workup: trade verbs as steps that act on named flasks.

A plan is a program over flasks. Every step names the flask it acts on; a step that makes two
layers says which one is kept and where each goes. The dataclasses here are the one description
of a step kind: the file format, the web forms and the printed sheets read their fields, units
and choices from the metadata below.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, ClassVar

START_FLASK = "reaction flask"
WASTE = "waste"


class FieldKind(StrEnum):
    """What sort of value a field of a step takes."""

    FLASK = "flask"
    FLASKS = "flasks"
    MATERIAL = "material"
    QUANTITY = "quantity"
    COUNT = "count"
    CHOICE = "choice"
    FLAG = "flag"
    TEXT = "text"


@dataclass(frozen=True)
class FieldSpec:
    """How one field of a step is asked for, checked and printed.

    ``role`` says which materials a MATERIAL field offers: ``liquid``, ``solvent``, ``agent``.
    ``produces`` marks a FLASK field that names where something is put (it may be a new flask,
    and may be ``waste`` where ``may_be_waste``).
    """

    kind: FieldKind
    label: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    role: str = ""
    produces: bool = False
    may_be_waste: bool = False
    optional: bool = False
    help: str = ""


def _spec(default: Any, spec: FieldSpec) -> Any:
    if default is dataclasses.MISSING:
        return field(metadata={"spec": spec})
    return field(default=default, metadata={"spec": spec})


def _flask(label: str = "Flask", default: Any = dataclasses.MISSING, **more: Any) -> Any:
    return _spec(default, FieldSpec(FieldKind.FLASK, label, **more))


def _material(label: str, role: str, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    return _spec(default, FieldSpec(FieldKind.MATERIAL, label, role=role, **more))


def _amount(label: str, unit: str, default: Any, low: float, high: float, **more: Any) -> Any:
    spec = FieldSpec(FieldKind.QUANTITY, label, unit=unit, low=low, high=high, **more)
    return _spec(default, spec)


def _count(label: str, default: int, high: int, low: int = 1, **more: Any) -> Any:
    return _spec(default, FieldSpec(FieldKind.COUNT, label, low=low, high=high, **more))


def _choice(label: str, default: str, choices: tuple[str, ...], **more: Any) -> Any:
    return _spec(default, FieldSpec(FieldKind.CHOICE, label, choices=choices, **more))


def _flag(label: str, default: bool, **more: Any) -> Any:
    return _spec(default, FieldSpec(FieldKind.FLAG, label, **more))


LAYERS = ("upper", "lower")
INTERFACES = ("with the water layer", "with the organic layer")
RECEIVERS = ("clean and dry", "wet from rinsing")
FILTER_METHODS = ("gravity", "decant")
STRIP_METHODS = ("rotary", "open", "distil")
WASTE_STREAMS = ("aqueous", "acid", "base", "non_halogenated", "halogenated", "solid")
DRY_ENDPOINTS = ("weighed", "free-flowing")


@dataclass(frozen=True, kw_only=True)
class Step:
    """What every step has: an identity that survives edits, and the student's own note."""

    verb: ClassVar[str] = ""
    title: ClassVar[str] = ""
    id: str
    note: str = field(
        default="", metadata={"spec": FieldSpec(FieldKind.TEXT, "Note", optional=True)}
    )

    def fields(self) -> Iterator[tuple[str, FieldSpec, Any]]:
        """Name, description and value of each field a person fills in, in printing order."""
        for name, spec in field_specs(type(self)).items():
            yield name, spec, getattr(self, name)


@dataclass(frozen=True, kw_only=True)
class Cool(Step):
    """Let the contents of a flask come to room temperature or below."""

    verb: ClassVar[str] = "cool"
    title: ClassVar[str] = "Cool"
    flask: str = _flask()
    to_C: float = _amount("To", "°C", 20.0, -20, 40)


@dataclass(frozen=True, kw_only=True)
class Add(Step):
    """Pour a solvent, solution or water into a flask, without shaking."""

    verb: ClassVar[str] = "add"
    title: ClassVar[str] = "Add"
    flask: str = _flask("To flask")
    material: str = _material("What", "liquid")
    volume_mL: float = _amount("Volume", "mL", dataclasses.MISSING, 0.1, 2000)
    slowly: bool = _flag("Slowly, in portions", False)


@dataclass(frozen=True, kw_only=True)
class Quench(Step):
    """Destroy what is left of a reactive reagent by adding something to it, in an open flask."""

    verb: ClassVar[str] = "quench"
    title: ClassVar[str] = "Quench"
    flask: str = _flask("Flask")
    material: str = _material("With", "liquid")
    volume_mL: float = _amount("Volume", "mL", dataclasses.MISSING, 0.1, 2000)
    slowly: bool = _flag("Slowly, in portions", True)
    on_ice: bool = _flag("In an ice bath", True)
    open_flask: bool = _flag("Flask left open", True)


@dataclass(frozen=True, kw_only=True)
class Adjust(Step):
    """Add acid or base to a flask until the water layer has a stated pH."""

    verb: ClassVar[str] = "adjust"
    title: ClassVar[str] = "Bring to pH"
    flask: str = _flask("Flask")
    material: str = _material("With", "liquid")
    until_pH: float = _amount("Until pH", "", dataclasses.MISSING, 0, 14)
    slowly: bool = _flag("Slowly, in portions", True)
    on_ice: bool = _flag("In an ice bath", True)


@dataclass(frozen=True, kw_only=True)
class Parting(Step):
    """What the three steps that shake and separate two layers have in common."""

    flask: str = _flask("From flask")
    keep: str = _choice("Layer kept", "upper", LAYERS)
    keep_in: str = _flask("Kept layer goes to", produces=True)
    other_in: str = _flask("Other layer goes to", produces=True, may_be_waste=True)
    swirl_open: bool = _flag("Swirl open before stoppering", False)
    vent: bool = _flag("Vent while shaking", True)
    settle_min: float = _amount("Let settle", "min", 2.0, 0, 1440)
    interface: str = _choice(
        "What is at the interface goes", INTERFACES[0], INTERFACES, optional=True
    )


@dataclass(frozen=True, kw_only=True)
class Separate(Parting):
    """Shake what is already in the flask, let it settle and separate the two layers."""

    verb: ClassVar[str] = "separate"
    title: ClassVar[str] = "Separate"


@dataclass(frozen=True, kw_only=True)
class Extract(Parting):
    """Shake with fresh solvent, keep the layer that takes up the product, repeat on the other.

    With several portions the layer that is *not* kept is shaken again each time and the kept
    layers are combined.
    """

    verb: ClassVar[str] = "extract"
    title: ClassVar[str] = "Extract"
    material: str = _material("With", "liquid")
    volume_mL: float = _amount("Volume of each portion", "mL", dataclasses.MISSING, 0.1, 2000)
    portions: int = _count("Portions", 1, 12)
    rinse_flask: bool = _flag("Rinse the emptied flask with half of the first portion", False)


@dataclass(frozen=True, kw_only=True)
class Wash(Parting):
    """Shake with a fresh wash, keep the layer that holds the product, repeat on that layer.

    With several portions the kept layer is shaken again each time and the washings are pooled.
    """

    verb: ClassVar[str] = "wash"
    title: ClassVar[str] = "Wash"
    material: str = _material("With", "liquid")
    volume_mL: float = _amount("Volume of each portion", "mL", dataclasses.MISSING, 0.1, 2000)
    portions: int = _count("Portions", 1, 12)


@dataclass(frozen=True, kw_only=True)
class Combine(Step):
    """Pour one or more flasks together into another."""

    verb: ClassVar[str] = "combine"
    title: ClassVar[str] = "Combine"
    flasks: tuple[str, ...] = _spec(dataclasses.MISSING, FieldSpec(FieldKind.FLASKS, "Flasks"))
    into: str = _flask("Into", produces=True)


@dataclass(frozen=True, kw_only=True)
class Transfer(Step):
    """Pour a flask into another and rinse it in."""

    verb: ClassVar[str] = "transfer"
    title: ClassVar[str] = "Transfer"
    flask: str = _flask("From flask")
    into: str = _flask("Into", produces=True)
    rinse_with: str = _material("Rinse with", "solvent", "", optional=True)
    rinse_mL: float = _amount("Volume of each rinse", "mL", 0.0, 0, 500)
    rinses: int = _count("Rinses", 0, 10, low=0)


@dataclass(frozen=True, kw_only=True)
class Rinse(Step):
    """Rinse an emptied flask or funnel with a little solvent and add it to another flask."""

    verb: ClassVar[str] = "rinse"
    title: ClassVar[str] = "Rinse"
    flask: str = _flask("Emptied flask")
    material: str = _material("With", "solvent")
    volume_mL: float = _amount("Volume of each rinse", "mL", dataclasses.MISSING, 0.1, 500)
    rinses: int = _count("Rinses", 1, 10)
    into: str = _flask("Into", produces=True)


@dataclass(frozen=True, kw_only=True)
class Dry(Step):
    """Add a drying agent: a weighed amount, or portions until the last one stays loose."""

    verb: ClassVar[str] = "dry"
    title: ClassVar[str] = "Dry"
    flask: str = _flask()
    agent: str = _material("Drying agent", "agent")
    endpoint: str = _choice("Amount", "free-flowing", DRY_ENDPOINTS)
    mass_g: float = _amount("Mass (each portion, if until free-flowing)", "g", 0.5, 0.01, 200)
    minutes: float = _amount("Leave for", "min", 10.0, 0, 10000)


@dataclass(frozen=True, kw_only=True)
class Filter(Step):
    """Filter or decant the liquid away from a drying agent and rinse the solid."""

    verb: ClassVar[str] = "filter"
    title: ClassVar[str] = "Filter"
    flask: str = _flask("From flask")
    into: str = _flask("Into", produces=True)
    receiver: str = _choice("The receiving flask is", RECEIVERS[0], RECEIVERS, optional=True)
    method: str = _choice("How", "gravity", FILTER_METHODS)
    rinse_with: str = _material("Rinse with", "solvent", "", optional=True)
    rinse_mL: float = _amount("Volume of each rinse", "mL", 0.0, 0, 500)
    rinses: int = _count("Rinses", 0, 10, low=0)


@dataclass(frozen=True, kw_only=True)
class Collect(Step):
    """Collect a solid by vacuum filtration, wash it on the filter and let it dry in air."""

    verb: ClassVar[str] = "collect"
    title: ClassVar[str] = "Collect the solid"
    flask: str = _flask("From flask")
    into: str = _flask("Solid goes to", produces=True)
    filtrate_in: str = _flask("Filtrate goes to", produces=True, may_be_waste=True)
    wash_with: str = _material("Wash with", "liquid", "", optional=True)
    wash_mL: float = _amount("Volume of each wash", "mL", 0.0, 0, 500)
    washes: int = _count("Washes", 0, 10, low=0)
    air_dry_min: float = _amount("Draw air through or leave to dry", "min", 10.0, 0, 20000)


@dataclass(frozen=True, kw_only=True)
class Tare(Step):
    """Weigh an empty, clean, dry flask or vial before the product goes in."""

    verb: ClassVar[str] = "tare"
    title: ClassVar[str] = "Tare"
    flask: str = _flask("Flask", produces=True)


@dataclass(frozen=True, kw_only=True)
class Strip(Step):
    """Remove the solvent."""

    verb: ClassVar[str] = "strip"
    title: ClassVar[str] = "Strip"
    flask: str = _flask()
    method: str = _choice("How", "rotary", STRIP_METHODS)
    bath_C: float = _amount("Bath", "°C", 40.0, 0, 250)
    pressure_mbar: float = _amount("Final pressure", "mbar", 1013.0, 1, 1100)
    hold_min: float = _amount("Hold after the solvent stops coming", "min", 5.0, 0, 10000)


@dataclass(frozen=True, kw_only=True)
class Weigh(Step):
    """Weigh the flask with the product, cool and dry outside."""

    verb: ClassVar[str] = "weigh"
    title: ClassVar[str] = "Weigh"
    flask: str = _flask()
    readings: int = _count("Readings (2 or more: to constant mass)", 2, 6)


@dataclass(frozen=True, kw_only=True)
class Discard(Step):
    """Pour a flask into a waste container."""

    verb: ClassVar[str] = "discard"
    title: ClassVar[str] = "Discard"
    flask: str = _flask()
    stream: str = _choice("Waste stream", "aqueous", WASTE_STREAMS)


@dataclass(frozen=True, kw_only=True)
class Label(Step):
    """Write on a flask what is in it."""

    verb: ClassVar[str] = "label"
    title: ClassVar[str] = "Label"
    flask: str = _flask()
    text: str = _spec("", FieldSpec(FieldKind.TEXT, "Text", optional=True))


TESTS = ("pH paper", "drop test", "KI-starch", "TLC")


@dataclass(frozen=True, kw_only=True)
class Test(Step):
    """Test what is in a flask; nothing is used up."""

    __test__: ClassVar[bool] = False
    verb: ClassVar[str] = "test"
    title: ClassVar[str] = "Test"
    flask: str = _flask()
    how: str = _choice("Test", "pH paper", TESTS)


@dataclass(frozen=True, kw_only=True)
class Stand(Step):
    """Let a flask stand."""

    verb: ClassVar[str] = "stand"
    title: ClassVar[str] = "Let stand"
    flask: str = _flask()
    minutes: float = _amount("For", "min", 5.0, 0, 20000)


STEP_KINDS: Mapping[str, type[Step]] = {
    kind.verb: kind
    for kind in (
        Cool,
        Quench,
        Add,
        Extract,
        Wash,
        Separate,
        Adjust,
        Combine,
        Transfer,
        Rinse,
        Dry,
        Filter,
        Collect,
        Tare,
        Strip,
        Weigh,
        Label,
        Test,
        Stand,
        Discard,
    )
}


def field_specs(kind: type[Step]) -> dict[str, FieldSpec]:
    """The fields a person fills in for a kind of step, in printing order, the note last."""
    specs = {f.name: f.metadata["spec"] for f in dataclasses.fields(kind) if "spec" in f.metadata}
    order = _PRINTING_ORDER.get(kind.verb)
    note = specs.pop("note")
    ordered = {name: specs[name] for name in order} if order else specs
    return {**ordered, "note": note}


_PARTING_TAIL = (
    "swirl_open", "vent", "settle_min", "keep", "keep_in", "other_in", "interface")
_PRINTING_ORDER: Mapping[str, tuple[str, ...]] = {
    "extract": ("flask", "material", "volume_mL", "portions", "rinse_flask", *_PARTING_TAIL),
    "wash": ("flask", "material", "volume_mL", "portions", *_PARTING_TAIL),
    "separate": ("flask", *_PARTING_TAIL),
}


@dataclass(frozen=True)
class Plan:
    """An ordered sequence of steps. Step ids are unique within a plan."""

    steps: tuple[Step, ...]

    def __post_init__(self) -> None:
        ids = [s.id for s in self.steps]
        doubled = sorted({i for i in ids if ids.count(i) > 1})
        if doubled:
            raise PlanError(f"step id used twice: {', '.join(doubled)}")

    def index(self, step_id: str) -> int:
        """Position of a step; raises PlanError where there is none."""
        for i, s in enumerate(self.steps):
            if s.id == step_id:
                return i
        raise PlanError(f"no step with id {step_id!r}")

    def without(self, *step_ids: str) -> Plan:
        """The plan with some steps taken out."""
        return Plan(tuple(s for s in self.steps if s.id not in step_ids))

    def replacing(self, step: Step) -> Plan:
        """The plan with the step of the same id put in place of the old one."""
        at = self.index(step.id)
        return Plan((*self.steps[:at], step, *self.steps[at + 1 :]))

    def inserting(self, at: int, *steps: Step) -> Plan:
        """The plan with new steps before position ``at``."""
        return Plan((*self.steps[:at], *steps, *self.steps[at:]))

    def free_id(self, stem: str) -> str:
        """A step id that starts with ``stem`` and is not used yet."""
        taken = {s.id for s in self.steps}
        number = 2
        found = stem
        while found in taken:
            found, number = f"{stem}-{number}", number + 1
        return found

    def moving(self, step_id: str, to: int) -> Plan:
        """The plan with one step taken out and put back before position ``to`` of the rest."""
        moved = self.steps[self.index(step_id)]
        rest = self.without(step_id)
        return rest.inserting(to, moved)


class PlanError(ValueError):
    """A plan that cannot be read as a program over flasks."""
