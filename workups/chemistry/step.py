"""What every step of a plan answers for itself, and how its fields are described.

A kind of step is one dataclass. Its fields say which vessels it takes up and fills and which
bench materials it uses; the answers below are read off those fields, so that whoever follows the
liquid, counts materials or prints a sheet asks the step and need not know its kind.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Any, ClassVar

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

    ``role`` says which materials a MATERIAL field offers: ``liquid``, ``solvent``, ``agent``;
    ``amount`` and ``times`` name the fields that say how much of it [mL] and how often.
    ``produces`` marks a FLASK field that names where something is put (it may be a new flask,
    and may be ``waste`` where ``may_be_waste``); ``aside`` where that is what nobody means to go
    on with. ``may_be_new`` marks a flask that is acted on and need not be there yet.
    """

    kind: FieldKind
    label: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    role: str = ""
    amount: str = ""
    times: str = ""
    produces: bool = False
    aside: bool = False
    may_be_waste: bool = False
    may_be_new: bool = False
    optional: bool = False
    help: str = ""


def _spec(default: Any, spec: FieldSpec) -> Any:
    if default is dataclasses.MISSING:
        return field(metadata={"spec": spec})
    return field(default=default, metadata={"spec": spec})


def flask_field(label: str = "Flask", default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """A field that names a flask."""
    return _spec(default, FieldSpec(FieldKind.FLASK, label, **more))


def flasks_field(label: str) -> Any:
    """A field that names one or more flasks."""
    return _spec(dataclasses.MISSING, FieldSpec(FieldKind.FLASKS, label))


def material_field(label: str, role: str, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """A field that names something from the bench."""
    return _spec(default, FieldSpec(FieldKind.MATERIAL, label, role=role, **more))


def amount_field(label: str, unit: str, default: Any, low: float, high: float, **more: Any) -> Any:
    """A field with a number in ``unit``."""
    spec = FieldSpec(FieldKind.QUANTITY, label, unit=unit, low=low, high=high, **more)
    return _spec(default, spec)


def count_field(label: str, default: int, high: int, low: int = 1, **more: Any) -> Any:
    """A field with a whole number."""
    return _spec(default, FieldSpec(FieldKind.COUNT, label, low=low, high=high, **more))


def choice_field(label: str, default: str, choices: tuple[str, ...], **more: Any) -> Any:
    """A field with one of some words."""
    return _spec(default, FieldSpec(FieldKind.CHOICE, label, choices=choices, **more))


def flag_field(label: str, default: bool, **more: Any) -> Any:
    """A field that says yes or no."""
    return _spec(default, FieldSpec(FieldKind.FLAG, label, **more))


def text_field(label: str, **more: Any) -> Any:
    """A field with free words, which may stay empty."""
    return _spec("", FieldSpec(FieldKind.TEXT, label, optional=True, **more))


@dataclass(frozen=True)
class Use:
    """Something a step takes from the bench: mL of a liquid or g of an agent.

    Both are None where only carrying the step out tells how much.
    """

    material: str
    volume_mL: float | None = None
    mass_g: float | None = None


class StepGroup(StrEnum):
    """What steps have in common for somebody who looks for one."""

    REACTION_FLASK = "Reaction flask"
    TWO_LAYERS = "Two layers"
    ISOLATE = "Dry and isolate"
    FLASKS = "Flasks"


@dataclass(frozen=True, kw_only=True)
class Step:
    """What every step has: an identity that survives edits, and the student's own note.

    A kind says of itself: ``verb`` and ``title``; its ``group``; whether it ``is_passive`` (what
    is in the flask stays as it is: wait, cool, label, test); whether it ``empties`` the flasks
    it takes (but for the film on the glass); the ``printing_order`` of its fields where that is
    not the order they are written in.
    """

    verb: ClassVar[str] = ""
    title: ClassVar[str] = ""
    group: ClassVar[StepGroup]
    is_passive: ClassVar[bool] = False
    empties: ClassVar[bool] = False
    printing_order: ClassVar[tuple[str, ...]] = ()
    id: str
    note: str = text_field("Note")

    def fields(self) -> Iterator[tuple[str, FieldSpec, Any]]:
        """Name, description and value of each field a person fills in, in printing order."""
        for name, spec in field_specs(type(self)).items():
            yield name, spec, getattr(self, name)

    def takes(self) -> tuple[str, ...]:
        """Flasks whose contents the step takes up or acts on, each once."""
        return _once(
            name for _, spec, value in self.fields() if not spec.produces
            for name in _flasks_in(spec, value))

    def needs(self) -> tuple[str, ...]:
        """Flasks that have to be there before the step: those it takes, unless it may start
        one."""
        return _once(
            name for _, spec, value in self.fields() if not (spec.produces or spec.may_be_new)
            for name in _flasks_in(spec, value))

    def brings(self) -> tuple[str, ...]:
        """Flasks that the step may be the first to name: they are there after it."""
        return _once(
            name for _, spec, value in self.fields() if spec.produces or spec.may_be_new
            for name in _flasks_in(spec, value) if name != WASTE)

    def fills(self) -> tuple[str, ...]:
        """Flasks that the step puts something into, and ``waste``; where it names none, the
        flask to which it adds a material."""
        return (*self.carries_on_in(), *self.sets_aside()) or (
            self.takes() if self.uses() else ())

    def carries_on_in(self) -> tuple[str, ...]:
        """Flasks that the step fills with what the plan means to go on with."""
        return self._named(aside=False)

    def sets_aside(self) -> tuple[str, ...]:
        """Flasks (or ``waste``) that take what the plan does not go on with."""
        return self._named(aside=True)

    def _named(self, *, aside: bool) -> tuple[str, ...]:
        return _once(
            name for _, spec, value in self.fields() if spec.produces and spec.aside is aside
            for name in _flasks_in(spec, value))

    @property
    def acts_on(self) -> str:
        """The one flask that the step is about; empty where it takes up several at once."""
        specs = field_specs(type(self))
        if any(spec.kind is FieldKind.FLASKS for spec in specs.values()):
            return ""
        return next((v for _, spec, v in self.fields() if spec.kind is FieldKind.FLASK), "")

    def pours(self) -> tuple[tuple[str, str], ...]:
        """From which flask into which flask or waste contents go, out and back into the same one
        too; none where a step works on a flask as it stands."""
        named = (*self.carries_on_in(), *self.sets_aside())
        return tuple((a, b) for a in self.takes() for b in named)

    def rinses_out(self) -> tuple[tuple[str, str], ...]:
        """From which glass into which flask a film is rinsed."""
        return ()

    def uses(self) -> tuple[Use, ...]:
        """What the step takes from the bench; nothing of a material that it uses 0 mL of."""
        used = (
            Use(value, self._volume_mL(spec)) for _, spec, value in self.fields()
            if spec.kind is FieldKind.MATERIAL and value)
        return tuple(u for u in used if u.volume_mL is None or u.volume_mL > 0)

    def _volume_mL(self, spec: FieldSpec) -> float | None:
        if not spec.amount:
            return None
        times = getattr(self, spec.times) if spec.times else 1
        return float(getattr(self, spec.amount) * times)

    def materials(self) -> tuple[str, ...]:
        """Keys of the bench materials that the step names, used or not."""
        return _once(
            value for _, spec, value in self.fields()
            if spec.kind is FieldKind.MATERIAL and value)


def _flasks_in(spec: FieldSpec, value: Any) -> tuple[str, ...]:
    if spec.kind is FieldKind.FLASKS:
        return tuple(value)
    return (value,) if spec.kind is FieldKind.FLASK and value else ()


def _once(names: Iterator[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def field_specs(kind: type[Step]) -> Mapping[str, FieldSpec]:
    """The fields a person fills in for a kind of step, in printing order, the note last."""
    described: Any = kind
    return _specs(described)


@cache
def _specs(kind: Any) -> Mapping[str, FieldSpec]:
    specs = {f.name: f.metadata["spec"] for f in dataclasses.fields(kind) if "spec" in f.metadata}
    note = specs.pop("note")
    first = {name: specs[name] for name in kind.printing_order if name in specs}
    return {**first, **specs, "note": note}
