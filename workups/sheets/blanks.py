"""Fields to fill in with a pencil: numbers in boxes, lines, and words to circle."""

from dataclasses import dataclass

from workups.chemistry.plan import Dry, Step
from workups.chemistry.readings import AGENT_LOOKS, LIQUID_LOOKS
from workups.words.numbers import balance_decimals


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


def step_record(step: Step, readability_g: float) -> StepRecord:
    """What a student writes down at a step."""
    if isinstance(step, Dry):
        return StepRecord(
            (
                Blank("portions"),
                Blank("time", "min"),
                Blank("agent in all", "g", mass_boxes(readability_g, 2)),
            ),
            (Circle("agent", AGENT_LOOKS), Circle("liquid", LIQUID_LOOKS)),
        )
    blanks = [Blank(noted.word, noted.unit) for noted in step.to_write()]
    if step.weighs:
        blanks.append(Blank("TA initials"))
    layers = layer_boxes(step)
    circles = (Circle("upper layer is", ("organic", "aqueous")),) if layers else ()
    return StepRecord(tuple(blanks), circles, layers, step.to_tick())


def layer_boxes(step: Step) -> tuple[LayerBox, ...]:
    """Upper and lower layer of a funnel as the plan has them; none where nothing is parted."""
    kept = step.carries_on_in()
    return tuple(LayerBox(layer, goes_to, goes_to in kept) for layer, goes_to in step.layers())
