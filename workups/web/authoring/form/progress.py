"""What the document's check says: how far each part is, and what is said beside which field."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from workups.documents import Problem
from workups.documents.errors import dotted
from workups.web.authoring.form.page import FieldGroup, PartForm
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


@dataclass
class Said:
    """What the document's check says, sorted by the fields and groups of a page."""

    by_field: dict[str, list[str]] = field(default_factory=dict)
    by_group: dict[str, list[str]] = field(default_factory=dict)
    to_fill_in: set[str] = field(default_factory=set)
    others: list[str] = field(default_factory=list)


def sort_problems(groups: Sequence[FieldGroup], problems: Iterable[Problem]) -> Said:
    """Each problem at the field it names, else at its row, else on top of the page."""
    said = Said()
    fields = {a.where: a.name for group in groups for a in group.all_fields}
    rows = {dotted(group.path): group.anchor for group in groups if group.path}
    for problem in problems:
        name = _nearest(problem.where, fields)
        row = _nearest(problem.where, rows)
        if name and is_missing(problem):
            said.to_fill_in.add(name)
        elif name:
            said.by_field.setdefault(name, []).append(plain_words(problem.message))
        elif row:
            said.by_group.setdefault(row, []).append(plain_words(problem.message))
        else:
            said.others.append(plain_words(problem.message))
    return said


def _nearest(where: str, known: Mapping[str, str]) -> str:
    """The known place that is, or holds, the one named; the longest one."""
    holding = [w for w in known if where == w or where.startswith((f"{w}.", f"{w}["))]
    return known[max(holding, key=len)] if holding else ""


_PLAIN = {"mass_g": "mass", "volume_mL": "volume", "amount_mmol": "amount"}


def plain_words(message: str) -> str:
    """A problem as a sentence, without the keys of the file."""
    for key, word in _PLAIN.items():
        message = message.replace(key, word)
    return f"{message[:1].upper()}{message[1:]}."


def add_errors(form: PartForm, said: Said) -> None:
    for name, messages in said.by_field.items():
        for message in messages:
            form.add_error(name, message)
