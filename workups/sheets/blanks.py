"""Fields to fill in with a pencil: numbers in boxes, lines, and words to circle."""

from __future__ import annotations

from dataclasses import dataclass

from workups.chemistry.plan import Dry, Parting, Step
from workups.chemistry.readings import AGENT_LOOKS, LIQUID_LOOKS
from workups.grading.numbers import balance_decimals


@dataclass(frozen=True)
class Blank:
    """A number to write down. ``boxes``: one ``#`` a digit, with the point; empty is a line."""

    label: str
    unit: str = ""
    boxes: str = ""


@dataclass(frozen=True)
class Circle:
    """Words of which one (or some) are circled."""

    label: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class LayerBox:
    """One layer of a funnel: where it goes, and whether the plan keeps it."""

    position: str
    goes_to: str
    kept: bool


@dataclass(frozen=True)
class StepRecord:
    """All that is recorded at one step."""

    blanks: tuple[Blank, ...] = ()
    circles: tuple[Circle, ...] = ()
    layers: tuple[LayerBox, ...] = ()
    ticks: tuple[str, ...] = ()


def mass_boxes(readability_g: float, digits: int = 3) -> str:
    """Boxes for a mass on a balance: three digits, the point, its decimals."""
    decimals = balance_decimals(readability_g)
    return "#" * digits + ("." + "#" * decimals if decimals else "")


_BLANKS: dict[str, tuple[Blank, ...]] = {
    "cool": (Blank("reached", "°C"),),
    "add": (Blank("added", "mL"),),
    "quench": (Blank("added", "mL"),),
    "adjust": (Blank("added", "mL"), Blank("pH reached")),
    "extract": (Blank("portions"), Blank("each", "mL")),
    "wash": (Blank("portions"), Blank("each", "mL")),
    "transfer": (Blank("rinses"), Blank("each", "mL")),
    "rinse": (Blank("rinses"), Blank("each", "mL")),
    "filter": (Blank("rinses"), Blank("each", "mL")),
    "collect": (Blank("washes"), Blank("each", "mL"), Blank("air", "min")),
    "strip": (Blank("bath", "°C"), Blank("down to", "mbar"), Blank("held", "min")),
    "discard": (Blank("poured", "mL"),),
    "tare": (Blank("TA initials"),),
    "weigh": (Blank("TA initials"),),
    "test": (Blank("result"),),
    "stand": (Blank("stood", "min"),),
}
_TICKS: dict[str, tuple[str, ...]] = {
    "quench": ("TA: quench done",),
    "tare": ("written below",),
    "weigh": ("written below",),
    "discard": ("TA: waste in the right container",),
}


def step_record(step: Step, readability_g: float) -> StepRecord:
    """What a student writes down at a step."""
    if isinstance(step, Dry):
        return _dry_record(readability_g)
    layers = layer_boxes(step) if isinstance(step, Parting) else ()
    ticks = ("fizzing had stopped",) if isinstance(step, Parting) and step.swirl_open else ()
    blanks = _BLANKS.get(step.verb, ())
    if getattr(step, "rinses", 1) == 0 or getattr(step, "washes", 1) == 0:
        blanks = tuple(b for b in blanks if b.label not in ("rinses", "washes", "each"))
    circles = (Circle("upper layer is", ("organic", "aqueous")),) if layers else ()
    return StepRecord(blanks, circles, layers, ticks or _TICKS.get(step.verb, ()))


def _dry_record(readability_g: float) -> StepRecord:
    return StepRecord(
        (
            Blank("portions"),
            Blank("time", "min"),
            Blank("agent in all", "g", mass_boxes(readability_g, 2)),
        ),
        (Circle("agent", AGENT_LOOKS), Circle("liquid", LIQUID_LOOKS)),
    )


def layer_boxes(step: Parting) -> tuple[LayerBox, LayerBox]:
    """Upper and lower layer of a funnel as the plan has them."""
    places = {step.keep: step.keep_in}
    other = "lower" if step.keep == "upper" else "upper"
    places[other] = step.other_in
    return (
        LayerBox("upper", places["upper"], step.keep == "upper"),
        LayerBox("lower", places["lower"], step.keep == "lower"),
    )
