"""How far each part of an exercise is: what is to be mended, what is still to be filled in."""

from collections.abc import Iterable
from dataclasses import dataclass

from workups.documents import Problem
from workups.web.authoring.form.parts import PARTS, Part

_NOT_THERE = ("is missing", "expected at least one")


@dataclass(frozen=True)
class PartState:
    """A part with how many problems it has; `to_fill_in` are of what is not there yet."""

    part: Part
    to_mend: int
    to_fill_in: int

    @property
    def is_done(self) -> bool:
        return not (self.to_mend or self.to_fill_in)


def is_missing(problem: Problem) -> bool:
    """Whether something is only not there yet: nothing to complain about while it is written."""
    return problem.message.startswith(_NOT_THERE)


def part_for(where: str) -> Part:
    """The part that a place of the document, as a problem names it, belongs to."""
    fitting = [
        (len(place), part)
        for part in PARTS
        for place in (".".join(p) for p in part.places)
        if where == place or where.startswith((f"{place}.", f"{place}["))
    ]
    if fitting:
        return max(fitting, key=lambda found: found[0])[1]
    inside = [p for p in PARTS if any(".".join(x).startswith(f"{where}.") for x in p.places)]
    return inside[0] if inside else PARTS[0]


def part_states(problems: Iterable[Problem]) -> list[PartState]:
    placed = [(part_for(p.where), p) for p in problems]
    return [
        PartState(
            part,
            sum(own is part and not is_missing(p) for own, p in placed),
            sum(own is part and is_missing(p) for own, p in placed),
        )
        for part in PARTS
    ]
