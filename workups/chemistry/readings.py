"""What was recorded at the bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .plan import Step

MARKS = ("done", "changed", "skipped", "added")
AGENT_LOOKS = ("free-flowing", "clumped", "puddle")
LIQUID_LOOKS = ("clear", "cloudy")
PART_USES = ("to a partner", "kept for another test", "used in a test")
ON_PAN = ("flask", "stir bar", "boiling chips", "cork ring", "stopper", "label")


@dataclass(frozen=True)
class DoneStep:
    """A step as it was really carried out.

    ``mark`` done / changed / skipped / added. ``step`` is the step with the amounts really used
    (for ``skipped`` the planned one). ``after`` is, for an added step, the id it came after.
    """

    step: Step
    mark: str
    after: str = ""
    remark: str = ""


@dataclass(frozen=True)
class Weighing:
    """One reading of a balance, in g, ``kind`` tare or gross."""

    kind: str
    mass_g: float
    flask_number: str = ""
    balance: str = ""
    readability_g: float = 0.01
    on_pan: tuple[str, ...] = ("flask",)
    minute: float | None = None


@dataclass(frozen=True)
class DryingRecord:
    """What was seen when a drying agent was added at a step."""

    step: str
    agent_mass_g: float | None = None
    portions: int | None = None
    agent_look: str = ""
    liquid_look: str = ""
    minutes: float | None = None


WITNESS_KINDS = ("mp", "TLC", "IR", "odour", "appearance")


@dataclass(frozen=True)
class Witness:
    """A sign of identity or purity; ``kind`` one of ``WITNESS_KINDS``."""

    kind: str
    text: str
    low_C: float | None = None
    high_C: float | None = None
    agrees: bool | None = None


@dataclass(frozen=True)
class SamplePart:
    """A part of the product taken out before the gross reading, weighed by itself [g].

    ``use`` one of PART_USES; ``empty_g`` 0 where the balance was tared with the vial on it.
    """

    use: str
    empty_g: float
    full_g: float
    readability_g: float = 0.01
    text: str = ""

    @property
    def mass_g(self) -> float:
        return self.full_g - self.empty_g


@dataclass(frozen=True)
class TargetReadings:
    """Everything recorded for one target product; ``parts`` are of a sample that was divided."""

    weighings: tuple[Weighing, ...] = ()
    witnesses: tuple[Witness, ...] = ()
    explanation: str = ""
    parts: tuple[SamplePart, ...] = ()


@dataclass(frozen=True)
class Readings:
    """A bench record. ``reagents`` are the amounts really used, by substance (g or mL as planned).

    ``targets`` by substance key. ``volumes`` mL seen, by step id and flask name.
    """

    steps: tuple[DoneStep, ...] = ()
    reagents: Mapping[str, float] = field(default_factory=dict)
    targets: Mapping[str, TargetReadings] = field(default_factory=dict)
    drying: tuple[DryingRecord, ...] = ()
    volumes: Mapping[tuple[str, str], float] = field(default_factory=dict)
