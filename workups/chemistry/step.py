"""What every step of a plan answers for itself, and how its fields are described.

A kind of step is one dataclass. Its fields say which vessels it takes up and fills and which
bench materials it uses; the answers below are read off those fields, so that whoever follows the
liquid, counts materials or prints a sheet asks the step and need not know its kind.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache, wraps
from typing import Any, ClassVar, Self, TypeVar

from .fields import FLASK_LENGTH, ID_PATTERN, ID_WORDS, KEY_LENGTH, Declared, identifier

WASTE = "waste"

S = TypeVar("S")
A = TypeVar("A")


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
class FieldSpec(Declared):
    """How one field of a step is asked for, checked and printed.

    ``role`` says which materials a MATERIAL field offers: ``liquid``, ``solvent``, ``agent``;
    ``amount`` and ``times`` name the fields that say how much of it [mL] and how often.
    ``produces`` marks a FLASK field that names where something is put (it may be a new flask,
    and may be ``waste`` where ``may_be_waste``); ``aside`` where that is what nobody means to go
    on with. ``may_be_new`` marks a flask that is acted on and need not be there yet. ``noted`` is
    the word under which what was really done is written down at the bench.
    """

    kind: FieldKind = FieldKind.TEXT
    amount: str = ""
    times: str = ""
    produces: bool = False
    aside: bool = False
    may_be_waste: bool = False
    may_be_new: bool = False
    noted: str = ""

    @property
    def optional(self) -> bool:
        """Whether it may stay empty."""
        return not self.filled

    @property
    def names_new(self) -> bool:
        """Whether it may name a flask that is not there yet."""
        return self.produces or self.may_be_new


def _field(kind: FieldKind, label: str, default: Any = dataclasses.MISSING,
           optional: bool = False, **more: Any) -> Any:
    spec = FieldSpec(label, kind=kind, filled=not optional, **more)
    return field(default=default, metadata={"spec": spec})


def flask_field(label: str = "Flask", default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """A field that names a flask."""
    new = more.get("produces") or more.get("may_be_new")
    says = "a flask, new or in use" if new else "a flask in use"
    if more.get("may_be_waste"):
        says = f'{says}, or "{WASTE}"'
    return _field(FieldKind.FLASK, label, default, lines=False, max_length=FLASK_LENGTH,
                  says=says, **more)


def flasks_field(label: str) -> Any:
    """A field that names one or more flasks."""
    return _field(FieldKind.FLASKS, label, lines=False, max_length=FLASK_LENGTH, max_items=20,
                  says="a flask in use")


def material_field(label: str, role: str, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """A field that names something from the bench."""
    return _field(FieldKind.MATERIAL, label, default, role=role, lines=False,
                  max_length=KEY_LENGTH, **more)


def amount_field(label: str, unit: str, default: Any, low: float, high: float, **more: Any) -> Any:
    """A field with a number in ``unit``."""
    return _field(FieldKind.QUANTITY, label, default, unit=unit, low=low, high=high, **more)


def count_field(label: str, default: int, high: int, low: int = 1, **more: Any) -> Any:
    """A field with a whole number."""
    return _field(FieldKind.COUNT, label, default, low=low, high=high, **more)


def choice_field(label: str, default: str, choices: tuple[str, ...], **more: Any) -> Any:
    """A field with one of some words."""
    return _field(FieldKind.CHOICE, label, default, choices=choices, **more)


def flag_field(label: str, default: bool, **more: Any) -> Any:
    """A field that says yes or no."""
    return _field(FieldKind.FLAG, label, default, **more)


def text_field(label: str, **more: Any) -> Any:
    """A field with free words, which may stay empty."""
    return _field(FieldKind.TEXT, label, "", optional=True, **more)


@dataclass(frozen=True)
class Use:
    """Something a step takes from the bench: mL of a liquid, so many times, or g of an agent.

    Where both are None, only carrying the step out tells how much. ``is_rinse``: it does not make
    the step, but helps along what the step is about.
    """

    material: str
    each_mL: float | None = None
    times: int = 1
    mass_g: float | None = None
    is_rinse: bool = False

    @property
    def volume_mL(self) -> float | None:
        """All of it together [mL]."""
        return None if self.each_mL is None else self.each_mL * self.times


@dataclass(frozen=True)
class Noted:
    """Something written down at the bench: the word for it and its unit."""

    word: str
    unit: str = ""


def _once_for_all(answer: Callable[[S], A]) -> Callable[[S], A]:
    """An answer of a step is worked out when it is first asked and kept: steps never change."""
    name = answer.__qualname__

    @wraps(answer)
    def asked(step: S) -> A:
        kept = step.__dict__
        if name not in kept:
            kept[name] = answer(step)
        known: A = kept[name]
        return known
    return asked


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
    it takes (but for the film on the glass); whether it ``weighs``; what a TA confirms with
    initials (``ta_confirms``); what is ``written`` down that is none of its fields; the
    ``printing_order`` of the fields where that is not the order they are declared in.
    """

    verb: ClassVar[str] = ""
    title: ClassVar[str] = ""
    group: ClassVar[StepGroup]
    is_passive: ClassVar[bool] = False
    empties: ClassVar[bool] = False
    weighs: ClassVar[bool] = False
    ta_confirms: ClassVar[str] = ""
    written: ClassVar[tuple[Noted, ...]] = ()
    printing_order: ClassVar[tuple[str, ...]] = ()
    id: str = field(metadata=identifier(
        help="names the step within the plan; stays when the step is moved or edited",
        pattern=ID_PATTERN, says=ID_WORDS))
    note: str = text_field("Note")

    @_once_for_all
    def fields(self) -> tuple[tuple[str, FieldSpec, Any], ...]:
        """Name, description and value of each field a person fills in, in printing order."""
        specs = field_specs(type(self))
        return tuple((name, spec, getattr(self, name)) for name, spec in specs.items())

    @_once_for_all
    def takes(self) -> tuple[str, ...]:
        """Flasks whose contents the step takes up or acts on, each once."""
        return _once(
            name for _, spec, value in self.fields() if not spec.produces
            for name in _flasks_in(spec, value))

    @_once_for_all
    def needs(self) -> tuple[str, ...]:
        """Flasks that have to be there before the step: those it takes, unless it may start
        one."""
        return _once(
            name for _, spec, value in self.fields() if not spec.names_new
            for name in _flasks_in(spec, value))

    @_once_for_all
    def brings(self) -> tuple[str, ...]:
        """Flasks that the step may be the first to name: they are there after it."""
        return _once(
            name for _, spec, value in self.fields() if spec.names_new
            for name in _flasks_in(spec, value) if name != WASTE)

    def fills(self) -> tuple[str, ...]:
        """Flasks that the step puts something into, and ``waste``; where it names none, the
        flask to which it adds a material."""
        return self.destinations() or (self.takes() if self.uses() else ())

    def destinations(self) -> tuple[str, ...]:
        """Flasks and ``waste`` that the step names as where something goes."""
        return (*self.carries_on_in(), *self.sets_aside())

    @_once_for_all
    def carries_on_in(self) -> tuple[str, ...]:
        """Flasks that the step fills with what the plan means to go on with."""
        return self._named(aside=False)

    @_once_for_all
    def sets_aside(self) -> tuple[str, ...]:
        """Flasks (or ``waste``) that take what the plan does not go on with."""
        return self._named(aside=True)

    def _named(self, *, aside: bool) -> tuple[str, ...]:
        return _once(
            name for _, spec, value in self.fields() if spec.produces and spec.aside is aside
            for name in _flasks_in(spec, value))

    @property
    @_once_for_all
    def acts_on(self) -> str:
        """The one flask that the step is about; empty where it takes up several at once."""
        specs = field_specs(type(self))
        if any(spec.kind is FieldKind.FLASKS for spec in specs.values()):
            return ""
        return next((v for _, spec, v in self.fields() if spec.kind is FieldKind.FLASK), "")

    def pours(self) -> tuple[tuple[str, str], ...]:
        """From which flask into which flask or waste contents go, out and back into the same one
        too; none where a step works on a flask as it stands."""
        return tuple((a, b) for a in self.takes() for b in self.destinations())

    def rinses_out(self) -> tuple[tuple[str, str], ...]:
        """From which glass into which flask a film is rinsed."""
        return ()

    def with_only(self, there: Container[str]) -> Self | None:
        """The step as far as it can be done with the flasks there are; None if it cannot."""
        return self if all(name in there for name in self.needs()) else None

    def layers(self) -> tuple[tuple[str, str], ...]:
        """``upper`` and ``lower`` with where each goes, of a step that parts two layers."""
        return ()

    @_once_for_all
    def uses(self) -> tuple[Use, ...]:
        """What the step takes from the bench; nothing of a material that it uses 0 mL of."""
        used = (
            self._use(value, spec) for _, spec, value in self.fields()
            if spec.kind is FieldKind.MATERIAL and value)
        return tuple(use for use in used if use.volume_mL is None or use.volume_mL > 0)

    def _use(self, key: str, spec: FieldSpec) -> Use:
        each_mL = getattr(self, spec.amount) if spec.amount else None
        times = getattr(self, spec.times) if spec.times else 1
        return Use(key, each_mL, times, is_rinse=spec.optional)

    @_once_for_all
    def materials(self) -> tuple[str, ...]:
        """Keys of the bench materials that the step names, used or not."""
        return _once(
            value for _, spec, value in self.fields()
            if spec.kind is FieldKind.MATERIAL and value)

    def instrument(self) -> str:
        """The shared instrument that the step stands at, empty where there is none."""
        return "balance" if self.weighs else ""

    def small_things(self) -> tuple[tuple[str, str], ...]:
        """Papers and the like that are used up, one each: what it is, what for."""
        return ()

    @property
    def waste_stream(self) -> str:
        """The waste container that the step names, empty where it names none."""
        return ""

    @property
    def is_on_ice(self) -> bool:
        """Whether it needs an ice bath."""
        return False

    @property
    def takes_further(self) -> bool:
        """Whether it goes on with what is in its flasks: more than to wait, look or label, and
        not to pour it away."""
        return not self.is_passive and self.fills() != (WASTE,)

    @property
    def is_initialled(self) -> bool:
        """Whether a TA puts initials to it."""
        return self.weighs or bool(self.ta_confirms)

    def to_tick(self) -> tuple[str, ...]:
        """What is ticked at the bench when it is done."""
        confirmed = (f"TA: {self.ta_confirms}",) if self.ta_confirms else ()
        return ("written below",) if self.weighs else confirmed

    def to_write(self) -> tuple[Noted, ...]:
        """What is written down at the bench, how often before how much; nothing about a rinse
        that is not done."""
        specs = field_specs(type(self))
        names = list(specs)
        for spec in specs.values():
            if spec.times:
                names.remove(spec.times)
                names.insert(names.index(spec.amount), spec.times)
                if not getattr(self, spec.times):
                    names = [n for n in names if n not in (spec.times, spec.amount)]
        noted = (specs[name] for name in names if specs[name].noted)
        return (*self.written, *(Noted(spec.noted, spec.unit) for spec in noted))


def _flasks_in(spec: FieldSpec, value: Any) -> tuple[str, ...]:
    if spec.kind is FieldKind.FLASKS:
        return tuple(value)
    return (value,) if spec.kind is FieldKind.FLASK and value else ()


def _once(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def field_specs(kind: type[Step]) -> Mapping[str, FieldSpec]:
    """The fields a person fills in for a kind of step, in printing order, the note last."""
    described: Any = kind
    return _specs(described)


@cache
def _specs(kind: Any) -> Mapping[str, FieldSpec]:
    specs = {f.name: spec for f in dataclasses.fields(kind)
             if isinstance(spec := f.metadata["spec"], FieldSpec)}
    note = specs.pop("note")
    first = {name: specs[name] for name in kind.printing_order if name in specs}
    return {**first, **specs, "note": note}
