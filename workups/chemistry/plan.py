"""The plan of a workup: trade verbs as steps that act on named flasks.

A plan is a program over flasks. Every step names the flask it acts on; a step that makes two
layers says which one is kept and where each goes. The dataclasses here are the one description
of a step kind (``step`` says what they answer): the file format, the web forms and the printed
sheets read their fields, units and choices, ``flow`` where the liquid goes.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field
from typing import ClassVar, Self, TypeVar

from .fields import MAX_STEPS, declared
from .limits import ICE_BELOW_C
from .step import WASTE as WASTE
from .step import FieldKind as FieldKind
from .step import FieldSpec as FieldSpec
from .step import (
    Noted,
    Use,
    amount_field,
    choice_field,
    count_field,
    flag_field,
    flask_field,
    flasks_field,
    material_field,
    text_field,
)
from .step import Step as Step
from .step import StepGroup as StepGroup
from .step import field_specs as field_specs

Kind = TypeVar("Kind", bound=Step)

START_FLASK = "reaction flask"

LAYERS = ("upper", "lower")
INTERFACES = ("with the water layer", "with the organic layer")
RECEIVERS = ("clean and dry", "wet from rinsing")
FILTER_METHODS = ("gravity", "decant")
STRIP_METHODS = ("rotary", "open", "distil")
_STRIPPERS = {
    "rotary": "rotary evaporator",
    "open": "hood place for open evaporation",
    "distil": "distillation set",
}
WASTE_STREAMS = ("aqueous", "acid", "base", "non_halogenated", "halogenated", "solid")
DRY_ENDPOINTS = ("weighed", "free-flowing")
FIZZING_STOPPED = "fizzing had stopped"
TESTS = ("pH paper", "drop test", "KI-starch", "TLC")
PAPERS = {
    "pH paper": "strips of pH paper",
    "KI-starch": "strips of KI-starch paper",
    "TLC": "TLC plates",
}


@dataclass(frozen=True, kw_only=True)
class Cool(Step):
    """Let the contents of a flask come to room temperature or below."""

    verb: ClassVar[str] = "cool"
    title: ClassVar[str] = "Cool"
    group: ClassVar[StepGroup] = StepGroup.REACTION_FLASK
    is_passive: ClassVar[bool] = True
    flask: str = flask_field()
    to_C: float = amount_field("To", "°C", 20.0, -20, 40, noted="reached")

    @property
    def is_on_ice(self) -> bool:
        return self.to_C < ICE_BELOW_C


@dataclass(frozen=True, kw_only=True)
class Add(Step):
    """Pour a solvent, solution or water into a flask, without shaking."""

    verb: ClassVar[str] = "add"
    title: ClassVar[str] = "Add"
    group: ClassVar[StepGroup] = StepGroup.REACTION_FLASK
    flask: str = flask_field("To flask", may_be_new=True)
    material: str = material_field("What", "liquid", amount="volume_mL")
    volume_mL: float = amount_field(
        "Volume", "mL", dataclasses.MISSING, 0.1, 2000, noted="added"
    )
    slowly: bool = flag_field("Slowly, in portions", False)


@dataclass(frozen=True, kw_only=True)
class Quench(Step):
    """Destroy what is left of a reactive reagent by adding something to it, in an open flask."""

    verb: ClassVar[str] = "quench"
    title: ClassVar[str] = "Quench"
    group: ClassVar[StepGroup] = StepGroup.REACTION_FLASK
    ta_confirms: ClassVar[str] = "quench done"
    flask: str = flask_field("Flask")
    material: str = material_field("With", "liquid", amount="volume_mL")
    volume_mL: float = amount_field(
        "Volume", "mL", dataclasses.MISSING, 0.1, 2000, noted="added"
    )
    slowly: bool = flag_field("Slowly, in portions", True)
    on_ice: bool = flag_field("In an ice bath", True)
    open_flask: bool = flag_field("Flask left open", True)

    @property
    def is_on_ice(self) -> bool:
        return self.on_ice


@dataclass(frozen=True, kw_only=True)
class Adjust(Step):
    """Add acid or base to a flask until the water layer has a stated pH."""

    verb: ClassVar[str] = "adjust"
    title: ClassVar[str] = "Bring to pH"
    group: ClassVar[StepGroup] = StepGroup.REACTION_FLASK
    written: ClassVar[tuple[Noted, ...]] = (Noted("added", "mL"),)
    flask: str = flask_field("Flask")
    material: str = material_field("With", "liquid")
    until_pH: float = amount_field("Until pH", "", dataclasses.MISSING, 0, 14, noted="pH reached")
    slowly: bool = flag_field("Slowly, in portions", True)
    on_ice: bool = flag_field("In an ice bath", True)

    def small_things(self) -> tuple[tuple[str, str], ...]:
        return ((PAPERS["pH paper"], "tests"),)

    @property
    def is_on_ice(self) -> bool:
        return self.on_ice


_SHAKING = ("swirl_open", "vent", "settle_min", "keep", "keep_in", "other_in", "interface")


@dataclass(frozen=True, kw_only=True)
class Parting(Step):
    """What the three steps that shake and separate two layers have in common."""

    group: ClassVar[StepGroup] = StepGroup.TWO_LAYERS
    empties: ClassVar[bool] = True
    pools_kept: ClassVar[bool] = False  # portions: the kept layers are pooled, else the others
    printing_order: ClassVar[tuple[str, ...]] = ("flask", *_SHAKING)
    flask: str = flask_field("From flask")
    keep: str = choice_field("Layer kept", "upper", LAYERS)
    keep_in: str = flask_field("Kept layer goes to", produces=True)
    other_in: str = flask_field(
        "Other layer goes to", produces=True, aside=True, may_be_waste=True
    )
    swirl_open: bool = flag_field("Swirl open before stoppering", False)
    vent: bool = flag_field("Vent while shaking", True)
    settle_min: float = amount_field("Let settle", "min", 2.0, 0, 1440)
    interface: str = choice_field(
        "What is at the interface goes", INTERFACES[0], INTERFACES, optional=True
    )

    def layers(self) -> tuple[tuple[str, str], ...]:
        kept, other = (self.keep_in, self.other_in)
        return tuple((layer, kept if layer == self.keep else other) for layer in LAYERS)

    @property
    def fresh(self) -> Use | None:
        """The liquid poured in anew for each shake; None where what is there is parted."""
        return next(iter(self.uses()), None)

    @property
    def shakes(self) -> int:
        """How often it is shaken."""
        return self.fresh.times if self.fresh else 1

    def to_tick(self) -> tuple[str, ...]:
        return (FIZZING_STOPPED,) if self.swirl_open else ()


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
    pools_kept: ClassVar[bool] = True
    printing_order: ClassVar[tuple[str, ...]] = (
        "flask", "material", "volume_mL", "portions", "rinse_flask", *_SHAKING
    )
    material: str = material_field("With", "liquid", amount="volume_mL", times="portions")
    volume_mL: float = amount_field(
        "Volume of each portion", "mL", dataclasses.MISSING, 0.1, 2000, noted="each"
    )
    portions: int = count_field("Portions", 1, 12, noted="portions")
    rinse_flask: bool = flag_field("Rinse the emptied flask with half of the first portion", False)

    def rinses_out(self) -> tuple[tuple[str, str], ...]:
        return tuple((self.flask, name) for name in self.fills()) if self.rinse_flask else ()


@dataclass(frozen=True, kw_only=True)
class Wash(Parting):
    """Shake with a fresh wash, keep the layer that holds the product, repeat on that layer.

    With several portions the kept layer is shaken again each time and the washings are pooled.
    """

    verb: ClassVar[str] = "wash"
    title: ClassVar[str] = "Wash"
    printing_order: ClassVar[tuple[str, ...]] = (
        "flask", "material", "volume_mL", "portions", *_SHAKING
    )
    material: str = material_field("With", "liquid", amount="volume_mL", times="portions")
    volume_mL: float = amount_field(
        "Volume of each portion", "mL", dataclasses.MISSING, 0.1, 2000, noted="each"
    )
    portions: int = count_field("Portions", 1, 12, noted="portions")


@dataclass(frozen=True, kw_only=True)
class Combine(Step):
    """Pour one or more flasks together into another."""

    verb: ClassVar[str] = "combine"
    title: ClassVar[str] = "Combine"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    empties: ClassVar[bool] = True
    flasks: tuple[str, ...] = flasks_field("Flasks")
    into: str = flask_field("Into", produces=True)

    def with_only(self, there: Container[str]) -> Self | None:
        flasks = tuple(name for name in self.flasks if name in there)
        return dataclasses.replace(self, flasks=flasks) if flasks else None


@dataclass(frozen=True, kw_only=True)
class Transfer(Step):
    """Pour a flask into another and rinse it in."""

    verb: ClassVar[str] = "transfer"
    title: ClassVar[str] = "Transfer"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    empties: ClassVar[bool] = True
    flask: str = flask_field("From flask")
    into: str = flask_field("Into", produces=True)
    rinse_with: str = material_field(
        "Rinse with", "solvent", "", optional=True, amount="rinse_mL", times="rinses"
    )
    rinse_mL: float = amount_field("Volume of each rinse", "mL", 0.0, 0, 500, noted="each")
    rinses: int = count_field("Rinses", 0, 10, low=0, noted="rinses")

    def rinses_out(self) -> tuple[tuple[str, str], ...]:
        return ((self.flask, self.into),) if self.uses() else ()


@dataclass(frozen=True, kw_only=True)
class Rinse(Step):
    """Rinse an emptied flask or funnel with a little solvent and add it to another flask."""

    verb: ClassVar[str] = "rinse"
    title: ClassVar[str] = "Rinse"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    flask: str = flask_field("Emptied flask")
    material: str = material_field("With", "solvent", amount="volume_mL", times="rinses")
    volume_mL: float = amount_field(
        "Volume of each rinse", "mL", dataclasses.MISSING, 0.1, 500, noted="each"
    )
    rinses: int = count_field("Rinses", 1, 10, noted="rinses")
    into: str = flask_field("Into", produces=True)

    def pours(self) -> tuple[tuple[str, str], ...]:
        return ()

    def rinses_out(self) -> tuple[tuple[str, str], ...]:
        return ((self.flask, self.into),)


@dataclass(frozen=True, kw_only=True)
class Dry(Step):
    """Add a drying agent: a weighed amount, or portions until the last one stays loose."""

    verb: ClassVar[str] = "dry"
    title: ClassVar[str] = "Dry"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    flask: str = flask_field()
    agent: str = material_field("Drying agent", "agent")
    endpoint: str = choice_field("Amount", "free-flowing", DRY_ENDPOINTS)
    mass_g: float = amount_field("Mass (each portion, if until free-flowing)", "g", 0.5, 0.01, 200)
    minutes: float = amount_field("Leave for", "min", 10.0, 0, 10000)

    def uses(self) -> tuple[Use, ...]:
        weighed = self.endpoint == DRY_ENDPOINTS[0]
        return (Use(self.agent, mass_g=self.mass_g if weighed else None),)


@dataclass(frozen=True, kw_only=True)
class Filter(Step):
    """Filter or decant the liquid away from a drying agent and rinse the solid."""

    verb: ClassVar[str] = "filter"
    title: ClassVar[str] = "Filter"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    flask: str = flask_field("From flask")
    into: str = flask_field("Into", produces=True)
    receiver: str = choice_field("The receiving flask is", RECEIVERS[0], RECEIVERS, optional=True)
    method: str = choice_field("How", "gravity", FILTER_METHODS)
    rinse_with: str = material_field(
        "Rinse with", "solvent", "", optional=True, amount="rinse_mL", times="rinses"
    )
    rinse_mL: float = amount_field("Volume of each rinse", "mL", 0.0, 0, 500, noted="each")
    rinses: int = count_field("Rinses", 0, 10, low=0, noted="rinses")

    def small_things(self) -> tuple[tuple[str, str], ...]:
        decanted = self.method == FILTER_METHODS[1]
        plug = "cotton wool, plugs" if decanted else "fluted filter papers"
        return ((plug, "drying agent"),)


@dataclass(frozen=True, kw_only=True)
class Collect(Step):
    """Collect a solid by vacuum filtration, wash it on the filter and let it dry in air."""

    verb: ClassVar[str] = "collect"
    title: ClassVar[str] = "Collect the solid"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    empties: ClassVar[bool] = True
    flask: str = flask_field("From flask")
    into: str = flask_field("Solid goes to", produces=True)
    filtrate_in: str = flask_field(
        "Filtrate goes to", produces=True, aside=True, may_be_waste=True
    )
    wash_with: str = material_field(
        "Wash with", "liquid", "", optional=True, amount="wash_mL", times="washes"
    )
    wash_mL: float = amount_field("Volume of each wash", "mL", 0.0, 0, 500, noted="each")
    washes: int = count_field("Washes", 0, 10, low=0, noted="washes")
    air_dry_min: float = amount_field(
        "Draw air through or leave to dry", "min", 10.0, 0, 20000, noted="air"
    )

    def small_things(self) -> tuple[tuple[str, str], ...]:
        return (("suction filters with papers", "solids"),)


@dataclass(frozen=True, kw_only=True)
class Triturate(Step):
    """Stir a solid with a little liquid that it hardly dissolves in, and take the liquid off."""

    verb: ClassVar[str] = "triturate"
    title: ClassVar[str] = "Triturate"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    flask: str = flask_field()
    material: str = material_field("With", "liquid", amount="volume_mL", times="portions")
    volume_mL: float = amount_field(
        "Volume of each portion", "mL", dataclasses.MISSING, 0.1, 500, noted="each"
    )
    portions: int = count_field("Portions", 1, 10, noted="portions")
    minutes: float = amount_field("Stir with each for", "min", 5.0, 0, 240, noted="stirred")
    liquid_in: str = flask_field("Liquid goes to", produces=True, aside=True, may_be_waste=True)


@dataclass(frozen=True, kw_only=True)
class Tare(Step):
    """Weigh an empty, clean, dry flask or vial before the product goes in."""

    verb: ClassVar[str] = "tare"
    title: ClassVar[str] = "Tare"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    weighs: ClassVar[bool] = True
    flask: str = flask_field("Flask", produces=True)

    def carries_on_in(self) -> tuple[str, ...]:
        return ()


@dataclass(frozen=True, kw_only=True)
class Strip(Step):
    """Remove the solvent."""

    verb: ClassVar[str] = "strip"
    title: ClassVar[str] = "Strip"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    flask: str = flask_field()
    method: str = choice_field("How", "rotary", STRIP_METHODS)
    bath_C: float = amount_field("Bath", "°C", 40.0, 0, 250, noted="bath")
    pressure_mbar: float = amount_field(
        "Final pressure", "mbar", 1013.0, 1, 1100, noted="down to"
    )
    hold_min: float = amount_field(
        "Hold after the solvent stops coming", "min", 5.0, 0, 10000, noted="held"
    )

    def instrument(self) -> str:
        return _STRIPPERS[self.method]


@dataclass(frozen=True, kw_only=True)
class Weigh(Step):
    """Weigh the flask with the product, cool and dry outside."""

    verb: ClassVar[str] = "weigh"
    title: ClassVar[str] = "Weigh"
    group: ClassVar[StepGroup] = StepGroup.ISOLATE
    weighs: ClassVar[bool] = True
    flask: str = flask_field()
    readings: int = count_field("Readings (2 or more: to constant mass)", 2, 6)


@dataclass(frozen=True, kw_only=True)
class Discard(Step):
    """Pour a flask into a waste container."""

    verb: ClassVar[str] = "discard"
    title: ClassVar[str] = "Discard"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    empties: ClassVar[bool] = True
    ta_confirms: ClassVar[str] = "waste in the right container"
    written: ClassVar[tuple[Noted, ...]] = (Noted("poured", "mL"),)
    flask: str = flask_field()
    stream: str = choice_field("Waste stream", "aqueous", WASTE_STREAMS)

    @property
    def waste_stream(self) -> str:
        return self.stream

    def sets_aside(self) -> tuple[str, ...]:
        return (WASTE,)


@dataclass(frozen=True, kw_only=True)
class Label(Step):
    """Write on a flask what is in it."""

    verb: ClassVar[str] = "label"
    title: ClassVar[str] = "Label"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    is_passive: ClassVar[bool] = True
    flask: str = flask_field()
    text: str = text_field("Text")


@dataclass(frozen=True, kw_only=True)
class Test(Step):
    """Test what is in a flask; nothing is used up."""

    __test__: ClassVar[bool] = False
    verb: ClassVar[str] = "test"
    title: ClassVar[str] = "Test"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    is_passive: ClassVar[bool] = True
    written: ClassVar[tuple[Noted, ...]] = (Noted("result"),)
    flask: str = flask_field()
    how: str = choice_field("Test", "pH paper", TESTS)

    def small_things(self) -> tuple[tuple[str, str], ...]:
        return ((PAPERS[self.how], "tests"),) if self.how in PAPERS else ()


@dataclass(frozen=True, kw_only=True)
class Stand(Step):
    """Let a flask stand."""

    verb: ClassVar[str] = "stand"
    title: ClassVar[str] = "Let stand"
    group: ClassVar[StepGroup] = StepGroup.FLASKS
    is_passive: ClassVar[bool] = True
    flask: str = flask_field()
    minutes: float = amount_field("For", "min", 5.0, 0, 20000, noted="stood")


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
        Tare,
        Strip,
        Weigh,
        Collect,
        Triturate,
        Label,
        Test,
        Stand,
        Discard,
    )
}


def steps_of(kind: type[Kind], steps: Iterable[Step]) -> list[Kind]:
    """Those of some steps that are of a kind, in order."""
    return [s for s in steps if isinstance(s, kind)]


@dataclass(frozen=True)
class Plan:
    """An ordered sequence of steps. Step ids are unique within a plan."""

    steps: tuple[Step, ...] = field(metadata=declared(
        "Steps", "the steps in order", written="step", max_items=MAX_STEPS))

    def __post_init__(self) -> None:
        ids = [s.id for s in self.steps]
        doubled = sorted({i for i in ids if ids.count(i) > 1})
        if doubled:
            raise PlanError(f"step id used twice: {', '.join(doubled)}")

    def of(self, kind: type[Kind], before: int | None = None) -> list[Kind]:
        """All steps of a kind, in order, or those before a position."""
        return steps_of(kind, self.steps[:before])

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
