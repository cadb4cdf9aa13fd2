"""What was recorded at the bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .fields import (
    FLASK_LENGTH,
    ID_PATTERN,
    ID_WORDS,
    MAX_STEPS,
    Metadata,
    declared,
    identifier,
    line,
    one_of,
)
from .plan import Step

MARKS = ("done", "changed", "skipped", "added")
AGENT_LOOKS = ("free-flowing", "clumped", "puddle")
LIQUID_LOOKS = ("clear", "cloudy")
WITNESS_KINDS = ("mp", "TLC", "IR", "odour", "appearance")
PART_USES = ("to a partner", "kept for another test", "used in a test")
ON_PAN = ("flask", "stir bar", "boiling chips", "cork ring", "stopper", "label")


def _mass(help: str) -> Metadata:
    return declared(help=help, low=-1000, high=10_000, unit="g")


def _readability() -> Metadata:
    return declared(help="smallest digit of the balance", low=1e-6, high=1, unit="g")


@dataclass(frozen=True)
class DoneStep:
    """A step as it was really carried out."""

    step: Step = field(metadata=declared(
        help="the step with the amounts really used; the planned one if skipped", flat=True))
    mark: str = field(metadata=one_of("", "how the step went", MARKS))
    after: str = field(default="", metadata=identifier(
        help="for an added step, the id of the step it came after", filled=False,
        pattern=f"({ID_PATTERN})?", says=ID_WORDS))
    remark: str = field(default="", metadata=declared(help="the student's remark"))


@dataclass(frozen=True)
class Weighing:
    """One reading of a balance, in g."""

    kind: str = field(metadata=one_of(
        "", "empty (tare) or with the product (gross)", ("tare", "gross")))
    mass_g: float = field(metadata=_mass("what the balance showed"))
    flask_number: str = field(default="", metadata=line(help="number on the flask"))
    balance: str = field(default="", metadata=line(help="number of the balance"))
    readability_g: float = field(default=0.01, metadata=_readability())
    on_pan: tuple[str, ...] = field(default=("flask",), metadata=one_of(
        "", "everything that was on the pan", ON_PAN))
    minute: float | None = field(default=None, metadata=declared(
        help="when, in minutes from the start", low=0, high=100_000, unit="min"))


@dataclass(frozen=True)
class DryingRecord:
    """What was seen when a drying agent was added at a step."""

    step: str = field(metadata=identifier(
        help="id of the drying step", pattern=ID_PATTERN, says=ID_WORDS))
    agent_mass_g: float | None = field(default=None, metadata=declared(
        help="drying agent used in all", low=0, high=1000, unit="g"))
    portions: int | None = field(default=None, metadata=declared(
        help="number of portions", low=0, high=100))
    agent_look: str = field(default="", metadata=one_of(
        "", "how the drying agent looked", ("", *AGENT_LOOKS)))
    liquid_look: str = field(default="", metadata=one_of(
        "", "how the liquid looked", ("", *LIQUID_LOOKS)))
    minutes: float | None = field(default=None, metadata=declared(
        help="how long it stood", low=0, high=20_000, unit="min"))


@dataclass(frozen=True)
class Witness:
    """A sign of identity or purity."""

    kind: str = field(metadata=one_of("", "what was looked at", WITNESS_KINDS))
    text: str = field(metadata=declared(help="what was seen"))
    low_C: float | None = field(default=None, metadata=declared(
        help="beginning of the melting range", low=-100, high=400, unit="°C"))
    high_C: float | None = field(default=None, metadata=declared(
        help="end of the melting range", low=-100, high=400, unit="°C"))
    agrees: bool | None = field(default=None, metadata=declared(
        help="whether it agrees with the expected product"))


@dataclass(frozen=True)
class SamplePart:
    """A part of the product taken out before the gross reading, weighed by itself [g]."""

    use: str = field(metadata=one_of("", "where the part went", PART_USES))
    empty_g: float = field(metadata=_mass("its vial empty; 0 where the balance was tared"))
    full_g: float = field(metadata=_mass("its vial with the part"))
    readability_g: float = field(default=0.01, metadata=_readability())
    text: str = field(default="", metadata=declared(help="what for, or whose"))

    @property
    def mass_g(self) -> float:
        return self.full_g - self.empty_g


@dataclass(frozen=True)
class SeenVolume:
    """A volume read off a flask."""

    step: str = field(metadata=line(
        help="id of the step it was seen at", filled=True, max_length=FLASK_LENGTH))
    flask: str = field(metadata=line(
        help="the flask it was seen in", filled=True, max_length=FLASK_LENGTH))
    volume_mL: float = field(metadata=declared(
        help="what was seen", low=0, high=10_000, unit="mL"))


@dataclass(frozen=True)
class TargetReadings:
    """Everything recorded for one target product; ``parts`` are of a sample that was divided."""

    weighings: tuple[Weighing, ...] = field(default=(), metadata=declared(
        help="readings of the balance in the order taken", written="weighing", max_items=40))
    witnesses: tuple[Witness, ...] = field(default=(), metadata=declared(
        help="signs of identity or purity", written="witness", max_items=20))
    explanation: str = field(default="", metadata=declared(
        help="the student's explanation of an odd result"))
    parts: tuple[SamplePart, ...] = field(default=(), metadata=declared(
        help="parts taken out before the gross reading", written="part", max_items=20))


@dataclass(frozen=True)
class Readings:
    """A bench record."""

    steps: tuple[DoneStep, ...] = field(default=(), metadata=declared(
        help="what was done at each step", written="step", max_items=2 * MAX_STEPS))
    reagents: Mapping[str, float] = field(default_factory=dict, metadata=declared(
        help="amounts really used, by substance, in the unit of the reagent table", low=0,
        high=10_000))
    targets: Mapping[str, TargetReadings] = field(default_factory=dict, metadata=declared(
        help="weighings and signs of identity, by target", written="target", max_items=10))
    drying: tuple[DryingRecord, ...] = field(default=(), metadata=declared(
        help="what was seen at each drying step"))
    volumes: tuple[SeenVolume, ...] = field(default=(), metadata=declared(
        help="volumes seen, each step and flask once", written="volume"))
