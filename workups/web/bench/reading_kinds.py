"""Entries that are readings: of a step, of a product, of the reagents; and a line through one."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.http import Http404

from workups.chemistry.plan import STEP_KINDS, WASTE, Dry, Step
from workups.chemistry.readings import AGENT_LOOKS, LIQUID_LOOKS
from workups.documents import step_from_data
from workups.grading.reagent_table import ReagentLine
from workups.models import Reading, ReadingKind
from workups.selectors.plans import produced_by
from workups.services.entries import Correction, NewEntry, ReadingValues, Said
from workups.sheets.blanks import layer_boxes
from workups.web.bench.entry import EntryForm, Of, SheetRow, reason_field, shown
from workups.web.bench.record import Bench
from workups.web.fields import CountField, NumberField, decimals_of
from workups.words.sentences import step_sentence

# ---- readings of a step ------------------------------------------------------------------------


class OfStepReading(EntryForm):
    """A reading that belongs to a step."""

    of = Of.STEP

    @property
    def says(self) -> str:
        """The step's sentence."""
        step = step_from_data(self.bench.step_or_404(self.place))
        return step_sentence(step, self.bench.exercise)

    def require_place(self) -> None:
        if not self.takes(step_from_data(self.bench.step_or_404(self.about))):
            raise Http404

    def name(self) -> str:
        return STEP_KINDS[self.bench.step_or_404(self.place)["verb"]].title


def look_field(label: str, words: tuple[str, ...]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=[(word, word) for word in words],
        widget=forms.RadioSelect,
        required=False,
    )


class DryingForm(OfStepReading):
    """What was seen at a drying step."""

    entry = "drying"
    summary = "Record amount and look"

    agent_mass = NumberField(
        label="Drying agent used in all, g", unit="g", low=0, high=1000, required=False
    )
    agent_portions = CountField(label="In how many portions", low=1, high=100, required=False)
    agent_look = look_field("The drying agent looks", AGENT_LOOKS)
    liquid_look = look_field("The liquid looks", LIQUID_LOOKS)
    drying_time = NumberField(
        label="Time over the agent, min", unit="min", low=0, high=20_000, required=False
    )

    KINDS: ClassVar = {
        "agent_mass": ReadingKind.AGENT_MASS,
        "agent_portions": ReadingKind.AGENT_PORTIONS,
        "agent_look": ReadingKind.AGENT_LOOK,
        "liquid_look": ReadingKind.LIQUID_LOOK,
        "drying_time": ReadingKind.DRYING_TIME,
    }
    reads = frozenset(KINDS.values())

    @classmethod
    def takes(cls, step: Step) -> bool:
        return isinstance(step, Dry)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not self.said():
            raise ValidationError("Fill in at least one field.")
        return cleaned

    def said(self) -> list[Said]:
        filled = {n: v for n in self.KINDS if (v := self.cleaned_data.get(n)) not in (None, "")}
        return [self._reading(name, found) for name, found in filled.items()]

    def _reading(self, name: str, found: Any) -> ReadingValues:
        kind = self.KINDS[name]
        if isinstance(found, str):
            return ReadingValues(kind=kind, step_id=self.place, text=found)
        value, unit = Decimal(found), getattr(self.fields[name], "unit", "")
        return ReadingValues(
            kind=kind, step_id=self.place, value=value, decimals=decimals_of(value), unit=unit
        )

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        name = next(name for name, kind in self.KINDS.items() if kind == reading.kind)
        return {name: reading.text or shown(reading.value, reading)}


class VolumeForm(OfStepReading):
    """The volume of a layer as seen in a flask."""

    entry = "volume"
    summary = "Record a volume"
    reads = frozenset({ReadingKind.VOLUME})

    flask = forms.ChoiceField(label="In which flask", widget=forms.RadioSelect)
    volume = NumberField(label="Volume, mL", unit="mL", low=0, high=10_000)

    @classmethod
    def takes(cls, step: Step) -> bool:
        return bool(step.layers())

    def add_fields(self) -> None:
        step = self.bench.step(self.place)
        names = produced_by(step) if step else []
        if self.correcting is not None and self.correcting.flask not in names:
            names.append(self.correcting.flask)
        self.fields["flask"].choices = [(name, name) for name in names]  # type: ignore[attr-defined]

    def missing(self) -> EntryForm:
        """Each layer has a volume of its own: all can be asked for."""
        return self

    def said(self) -> list[Said]:
        value = self.cleaned_data["volume"]
        return [
            ReadingValues(
                kind=ReadingKind.VOLUME,
                step_id=self.place,
                flask=self.cleaned_data["flask"],
                value=value,
                decimals=decimals_of(value),
                unit="mL",
            )
        ]

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        return {"flask": reading.flask, "volume": shown(reading.value, reading)}

    @classmethod
    def on_sheet(cls, bench: Bench, about: str) -> Iterable[SheetRow]:
        """Both layers; the volume of one that went to waste is not asked for."""
        for box in layer_boxes(step_from_data(bench.step_or_404(about))):
            if box.goes_to != WASTE:
                name = f"volume--{about}--{box.position}"
                label = f"{box.position.capitalize()} layer, to {box.goes_to}, mL"
                yield SheetRow({"volume": name}, {"flask": box.goes_to}, {name: label})


# ---- readings of the whole record ---------------------------------------------------------------


def unit_of(line: ReagentLine) -> str:
    return "mL" if line.volume_mL is not None else "g" if line.mass_g is not None else "mmol"


class ReagentsForm(EntryForm):
    """Amounts really used."""

    entry = "reagents"
    of = Of.RECORD
    summary = "Reagents really used"
    reads = frozenset({ReadingKind.REAGENT})

    def require_place(self) -> None:
        if self.about:
            raise Http404

    def add_fields(self) -> None:
        for line in self.bench.lines:
            unit = unit_of(line)
            self.fields[line.key] = NumberField(
                label=f"{line.name}, {unit}",
                help_text=f"Planned: {line.planned}",
                unit=unit,
                low=0,
                high=10_000,
                required=False,
            )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not self.said():
            raise ValidationError("Fill in at least one amount.")
        return cleaned

    def said(self) -> list[Said]:
        return [
            ReadingValues(
                kind=ReadingKind.REAGENT,
                subject=line.key,
                value=value,
                decimals=decimals_of(value),
                unit=unit_of(line),
            )
            for line in self.bench.lines
            if (value := self.cleaned_data.get(line.key)) is not None
        ]

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        return {reading.subject: shown(reading.value, reading)}

    @classmethod
    def on_sheet(cls, bench: Bench, _about: str) -> Iterable[SheetRow]:
        """What staff dispense is not on the sheet."""
        reagents = bench.exercise.setup.reaction.reagents
        by_staff = {r.substance for r in reagents if r.staff_dispensed}
        names = {line.key: f"used--{line.key}" for line in bench.lines if line.key not in by_staff}
        yield SheetRow(names)


def reading_or_404(bench: Bench, about: str) -> Reading:
    known = about.isdecimal() and len(about) < 18
    reading = Reading.objects.filter(pk=int(about), record=bench.record).first() if known else None
    if reading is None or reading.withdrawn:
        raise Http404
    return reading


class StrikeForm(EntryForm):
    """Strike a reading out without a new one."""

    entry = "strike"
    of = Of.READING
    lead = "For an entry that should not be there at all."
    button = "Strike it out"

    def __init__(self, data: Any = None, *, bench: Bench, about: str, **kwargs: Any) -> None:
        struck = reading_or_404(bench, about)
        kwargs.setdefault("auto_id", f"strike-{about}-%s")
        super().__init__(data, bench=bench, about=about, correcting=struck, **kwargs)

    def _ask_again(self, _reading: Reading) -> None:
        self.fields["reason"] = reason_field("Why")

    @property
    def words(self) -> str:
        old = self.correcting
        return f"Strike out {old.get_kind_display()} {old.shown_value}" if old else ""

    def values_of(self, _reading: Reading) -> Mapping[str, Any]:
        return {}

    def new_entry(self) -> NewEntry:
        old, reason = self.correcting, self.cleaned_data["reason"]
        return NewEntry(self.origin(), [Correction(old, None, reason)] if old else [])
