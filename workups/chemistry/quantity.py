"""A number with its unit, standard uncertainty, source and grade."""

from __future__ import annotations

from dataclasses import dataclass, field

from .fields import declared, line, one_of

GRADES = {
    "A": "A: read in a source",
    "B": "B: from memory, to be checked",
    "P": "P: common practice, no source",
}
GRADES_MEAN = "A read in a source, B from memory, P common practice"


@dataclass(frozen=True)
class Quantity:
    """A value as the tables hold it.

    ``uncertainty`` is a standard uncertainty in ``unit``. ``grade``: A read in a published table
    or reference library, B recalled and still to be confirmed, P common practice without source.
    """

    value: float = field(metadata=declared("Value", "the value", hint=""))
    unit: str = field(metadata=line(
        "Unit", "its unit, 1 for a pure number", hint="", filled=True))
    uncertainty: float = field(metadata=declared(
        "Standard uncertainty", "standard uncertainty in the same unit", hint="", low=0))
    source: str = field(metadata=line("Source", "where it comes from", hint="", filled=True))
    grade: str = field(metadata=one_of("Grade", GRADES_MEAN, GRADES))
    note: str = field(default="", metadata=declared("Note", "anything to know about it", hint=""))

    def __post_init__(self) -> None:
        if self.grade not in GRADES:
            raise ValueError(f"grade {self.grade!r} is not one of {', '.join(GRADES)}")
        if self.uncertainty < 0:
            raise ValueError(f"uncertainty {self.uncertainty} is negative")
