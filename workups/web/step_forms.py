"""One form for every kind of step, made from the fields that the step's dataclass describes."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from workups.chemistry.fields import MAX_ITEMS, NOTE_LENGTH
from workups.chemistry.plan import (
    LAYERS,
    STEP_KINDS,
    WASTE,
    FieldKind,
    FieldSpec,
    Parting,
    Step,
    Tare,
    field_specs,
)
from workups.documents import known_names, step_from_data
from workups.exercise.exercise import Exercise
from workups.selectors.plans import PlanStepData, last_product_flask, produced_by
from workups.web.fields import CountField, FlaskField, NumberField
from workups.words.material_facts import material_name

CHOICE_WORDS: Mapping[str, str] = {
    "upper": "upper layer",
    "lower": "lower layer",
    "weighed": "a weighed amount",
    "free-flowing": "portions until free-flowing",
    "gravity": "by gravity, through paper or cotton",
    "decant": "decant",
    "rotary": "rotary evaporator",
    "open": "open, in the hood",
    "distil": "distil",
    "non_halogenated": "non-halogenated solvent",
    "halogenated": "halogenated solvent",
}
_SELDOM = frozenset({"settle_min", "interface", "note", "air_dry_min"})
_SHORT_KINDS = frozenset({FieldKind.QUANTITY, FieldKind.COUNT, FieldKind.FLASK, FieldKind.MATERIAL})


@dataclass(frozen=True)
class FlaskLists:
    """Flasks there are before a step; ids of the datalists that offer them."""

    names: tuple[str, ...]
    list_id: str = "flask-names"
    list_with_waste_id: str = "flask-names-or-waste"


class StepForm(forms.Form):
    """The fields of one kind of step. `cleaned_data` has what the dataclass takes."""

    def __init__(
        self,
        data: Any = None,
        *,
        verb: str,
        step_id: str,
        exercise: Exercise,
        flasks: FlaskLists,
        initial: Mapping[str, Any] | None = None,
        **kwargs: Any,
    ) -> None:
        kwargs.setdefault("auto_id", f"{step_id}-%s")
        super().__init__(data, initial=dict(initial or {}), **kwargs)
        self.kind = STEP_KINDS[verb]
        self.step_id = step_id
        self.flasks = flasks
        self.specs = field_specs(self.kind)
        for name, spec in self.specs.items():
            value = self.initial.get(name) if data is None else data.get(name)
            self.fields[name] = make_field(Asked(name, spec, exercise, flasks, value))
        if issubclass(self.kind, Parting):
            for name in ("keep_in", "other_in"):
                self.fields[name].required = False
                self.fields[name].widget.attrs["placeholder"] = "named after the layer"

    def focus_first(self) -> None:
        """Put the cursor into the first field when the form is shown."""
        widget = next(iter(self.fields.values())).widget
        if not isinstance(widget, forms.CheckboxSelectMultiple):
            widget.attrs["autofocus"] = True

    def to_step(self) -> Step:
        """The step as filled in; only after `is_valid`."""
        cleaned = {name: _plain(self.cleaned_data[name]) for name in self.specs}
        values = {name: value for name, value in cleaned.items() if value is not None}
        return step_from_data({"verb": self.kind.verb, "id": self.step_id, **values})

    def too_long(self) -> list[str]:
        """Names of the fields with more in them than even a note may have."""
        return [name for name, typed in self.typed().items() if _is_too_long(typed)]

    def typed(self) -> dict[str, Any]:
        """What was typed, for keeping a step that is not filled in correctly yet."""
        return {
            name: field.widget.value_from_datadict(self.data, self.files, self.add_prefix(name))
            for name, field in self.fields.items()
        }

    def clean(self) -> dict[str, Any]:
        """Layers poured into no flask by name get one of their own."""
        cleaned = super().clean() or self.cleaned_data
        kept = cleaned.get("keep")
        if issubclass(self.kind, Parting) and kept:
            other = next(layer for layer in LAYERS if layer != kept)
            for name, layer in (("keep_in", kept), ("other_in", other)):
                if name not in self.errors and not cleaned.get(name):
                    cleaned[name] = self._new_flask(f"{layer} layer")
        return cleaned

    def _new_flask(self, name: str) -> str:
        """The name, with a number where another flask has it. The one emptied here is free."""
        taken = {*self.flasks.names} - {self.cleaned_data.get("flask")}
        numbered = (f"{name} {number}" for number in range(2, len(taken) + 3))
        return next(free for free in (name, *numbered) if free not in taken)

    @property
    def rows(self) -> list[list[BoundField]]:
        """The fields in printing order, short ones side by side, without those seldom changed."""
        return self._rows(name for name in self.specs if not self._is_seldom(name))

    @property
    def seldom_rows(self) -> list[list[BoundField]]:
        return self._rows(name for name in self.specs if self._is_seldom(name))

    @property
    def seldom_words(self) -> str:
        """What is folded away: the labels."""
        labels = [str(field.label) for row in self.seldom_rows for field in row]
        return ", ".join(label[:1].lower() + label[1:] for label in labels)

    @property
    def seldom_wrong(self) -> bool:
        return any(field.errors for row in self.seldom_rows for field in row)

    def _is_seldom(self, name: str) -> bool:
        """What has its usual value nearly always, and the note."""
        return self.specs[name].kind is FieldKind.FLAG or name in _SELDOM

    def _rows(self, names: Iterable[str]) -> list[list[BoundField]]:
        rows: list[list[BoundField]] = []
        short_before = False
        for name in names:
            spec = self.specs[name]
            short = spec.kind in _SHORT_KINDS
            if short and short_before:
                rows[-1].append(self[name])
            else:
                rows.append([self[name]])
            short_before = short
        return rows


class TypedData(dict[str, Any]):
    """What was typed before, in the shape of a submitted form."""

    def getlist(self, name: str) -> list[Any]:
        value = self.get(name)
        if value is None:
            return []
        return value if isinstance(value, list) else [value]


def _is_too_long(typed: Any) -> bool:
    if isinstance(typed, list):
        return len(typed) > MAX_ITEMS or any(_is_too_long(each) for each in typed)
    return isinstance(typed, str) and len(typed) > NOTE_LENGTH


def _plain(value: Any) -> Any:
    """A cleaned value as the plain data of a step."""
    return float(value) if isinstance(value, Decimal) else value


def label_of(spec: FieldSpec) -> str:
    """The label with the unit in it, so that it is read out with it."""
    return f"{spec.label}, {spec.unit}" if spec.unit else spec.label


@dataclass(frozen=True)
class Asked:
    """One field to make: its description, what it may offer, and what stands in it."""

    name: str
    spec: FieldSpec
    exercise: Exercise
    flasks: FlaskLists
    value: Any

    @property
    def common(self) -> dict[str, Any]:
        return {
            "label": label_of(self.spec),
            "help_text": self.spec.help,
            "required": not self.spec.optional,
            "template_name": "workups/planning/_step_field.html",
        }


def make_field(asked: Asked) -> forms.Field:
    return _MAKERS[asked.spec.kind](asked)


def _flask(asked: Asked) -> forms.Field:
    if asked.spec.names_new:
        return _new_flask(asked)
    choices = _flask_choices(asked.flasks, asked.value)
    return forms.ChoiceField(choices=choices, **asked.common)


def _new_flask(asked: Asked) -> forms.Field:
    may_waste, flasks = asked.spec.may_be_waste, asked.flasks
    words = "A flask there is, a new name, or waste." if may_waste else ""
    return FlaskField(
        list_id=flasks.list_with_waste_id if may_waste else flasks.list_id,
        **{**asked.common, "help_text": asked.spec.help or words},
    )


def _flasks(asked: Asked) -> forms.Field:
    names = [(flask, flask) for flask in _with_values(asked.flasks.names, asked.value)]
    return forms.MultipleChoiceField(
        choices=names, widget=forms.CheckboxSelectMultiple, **asked.common
    )


def _material(asked: Asked) -> forms.Field:
    return forms.ChoiceField(choices=material_choices(asked.spec, asked.exercise), **asked.common)


def _quantity(asked: Asked) -> forms.Field:
    spec = asked.spec
    return NumberField(unit=spec.unit, low=spec.low, high=spec.high, **asked.common)


def _count(asked: Asked) -> forms.Field:
    return CountField(low=asked.spec.low, high=asked.spec.high, **asked.common)


def _choice(asked: Asked) -> forms.Field:
    words = [(choice, choice_words(choice)) for choice in asked.spec.choices]
    return forms.TypedChoiceField(
        choices=words, widget=forms.RadioSelect, empty_value=None, **asked.common
    )


def _flag(asked: Asked) -> forms.Field:
    return forms.BooleanField(**{**asked.common, "required": False})


def _text(asked: Asked) -> forms.Field:
    label = "Note to yourself" if asked.name == "note" else asked.common["label"]
    return forms.CharField(max_length=NOTE_LENGTH, **{**asked.common, "label": label})


_MAKERS: Mapping[FieldKind, Callable[[Asked], forms.Field]] = {
    FieldKind.FLASK: _flask,
    FieldKind.FLASKS: _flasks,
    FieldKind.MATERIAL: _material,
    FieldKind.QUANTITY: _quantity,
    FieldKind.COUNT: _count,
    FieldKind.CHOICE: _choice,
    FieldKind.FLAG: _flag,
    FieldKind.TEXT: _text,
}


def choice_words(choice: str) -> str:
    return CHOICE_WORDS.get(choice, choice)


def _with_values(names: tuple[str, ...], value: Any) -> list[str]:
    """The names, and what stands in the field although it is not among them."""
    values = value if isinstance(value, list | tuple) else [value]
    return [*names, *(str(v) for v in values if v and v not in names)]


def _flask_choices(flasks: FlaskLists, value: Any) -> list[tuple[str, str]]:
    gone = [v for v in _with_values(flasks.names, value) if v not in flasks.names]
    return [
        ("", "Choose a flask"),
        *((name, name) for name in flasks.names if name != WASTE),
        *((name, f"{name} (not there at this point)") for name in gone),
    ]


def material_choices(spec: FieldSpec, exercise: Exercise) -> list[tuple[str, str]]:
    """The exercise's materials that fit a field's role, by name."""
    own = tuple(m.key for m in exercise.setup.own_materials)
    fitting = known_names().with_own(own).of_role(spec.role)
    offered = [key for key in (*exercise.setup.materials, *own) if key in fitting]
    named = [(key, material_name(key, exercise)) for key in dict.fromkeys(offered)]
    nothing = "nothing" if spec.optional else "Choose what"
    return [("", nothing), *named]


# What most likely stands in a step just added: the trade's usual, and what the steps before say.
# No material is chosen, and no layer before the first one was: these are what is to be thought
# about. The layer last kept, the flask that holds the product, the portions and volumes of the last
# step of the same kind, the flask that was tared: these are most likely the same again.


PRODUCT_FLASK = "round-bottom flask"
WASHINGS = "washings"
# What a step takes over from the last one of its kind.
_SAME_AGAIN = ("volume_mL", "portions", "rinse_mL", "rinses", "settle_min")


def usual(verb: str, before: Sequence[PlanStepData]) -> dict[str, Any]:
    """Values of a new step of this verb after those steps, by field."""
    kind = STEP_KINDS[verb]
    specs = field_specs(kind)
    values = _of_the_trade(kind)
    same = _last(before, lambda step: step["verb"] == verb)
    values |= {name: same[name] for name in _SAME_AGAIN if name in specs and same.get(name)}
    values |= _usual_flasks(kind, before)
    if issubclass(kind, Parting):
        parted = _last(before, lambda step: issubclass(STEP_KINDS[step["verb"]], Parting))
        values |= {"keep": parted["keep"]} if parted.get("keep") in LAYERS else {}
    return values


def _of_the_trade(kind: type[Step]) -> dict[str, Any]:
    values = {}
    for name, spec in field_specs(kind).items():
        default = kind.__dataclass_fields__[name].default
        if spec.kind is not FieldKind.MATERIAL and name != "keep" and isinstance(
                default, str | int | float):
            values[name] = default
    return values


def _usual_flasks(kind: type[Step], before: Sequence[PlanStepData]) -> dict[str, Any]:
    """Where it takes from and puts into."""
    specs = field_specs(kind)
    first, spec = next(iter(specs.items()))
    if issubclass(kind, Tare):
        return {first: PRODUCT_FLASK}
    if spec.kind is not FieldKind.FLASK or spec.produces:
        return {}
    flask = last_product_flask(before)
    if kind.verb == "discard":
        return {first: next(iter(_set_aside(before)), "")}
    if kind.verb == "wash":
        washed = _last(before, lambda step: step["verb"] == "wash")
        return {first: flask, "keep_in": flask, "other_in": washed.get("other_in") or WASHINGS}
    tared = _last(before, lambda step: step["verb"] == Tare.verb).get("flask")
    return {first: flask, **({"into": tared} if "into" in specs and tared else {})}


def _set_aside(before: Iterable[PlanStepData]) -> list[str]:
    """Flasks that got what the plan does not go on with and were not emptied since."""
    flasks: list[str] = []
    for step in before:
        values = _values(step)
        if STEP_KINDS[step["verb"]].empties:
            flasks = [name for name in flasks if name != values.get("flask")]
        kept = produced_by(step, aside=False)
        flasks += [name for name in produced_by(step) if name not in kept + flasks]
    return flasks


def _values(step: PlanStepData) -> Mapping[str, Any]:
    values: Mapping[str, Any] = step.get("typed", step)
    return values


def _last(before: Iterable[PlanStepData], fits: Any) -> Mapping[str, Any]:
    """Values of the last step that fits; empty where there is none."""
    return next((_values(step) for step in reversed(list(before)) if fits(step)), {})
