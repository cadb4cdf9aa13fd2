from collections.abc import Iterable
from decimal import Decimal
from typing import Any
from uuid import uuid4, uuid5

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from workups.chemistry.readings import (
    AGENT_LOOKS,
    LIQUID_LOOKS,
    MARKS,
    ON_PAN,
    PART_USES,
    WITNESS_KINDS,
)
from workups.grading.reagent_table import ReagentLine
from workups.models import (
    BenchStep,
    EntrySource,
    Person,
    Reading,
    ReadingKind,
)
from workups.models.bench import set_right
from workups.services.bench import EntryOrigin, ReadingValues
from workups.web.fields import (
    BalanceField,
    CountField,
    DeviceOffsetField,
    DeviceTimeField,
    NumberField,
    decimals_of,
    length_in,
)


class BenchForm(forms.Form):
    """A form at the bench. Its token makes sending it twice harmless."""

    client_token = forms.UUIDField(widget=forms.HiddenInput)
    device_at = DeviceTimeField(widget=forms.HiddenInput, required=False)
    device_offset_s = DeviceOffsetField(widget=forms.HiddenInput, required=False)

    def __init__(self, data: Any = None, **kwargs: Any) -> None:
        kwargs["initial"] = {"client_token": uuid4(), **(kwargs.get("initial") or {})}
        super().__init__(data, **kwargs)

    def clean(self) -> dict[str, Any]:
        """A device's clock that leads out of the course's reach is left out: no reading is refused
        for it, and none is shown at such a time."""
        cleaned = super().clean() or self.cleaned_data
        at, offset = cleaned.get("device_at"), cleaned.get("device_offset_s")
        if set_right(at, offset or 0, timezone.now()) is None:
            cleaned["device_at"] = cleaned["device_offset_s"] = None
        return cleaned

    def origin(
        self, person: Person, button: str = "", source: EntrySource = EntrySource.BENCH
    ) -> EntryOrigin:
        """Who sends this; where a form has several buttons, each is an entry of its own."""
        token = self.cleaned_data["client_token"]
        return EntryOrigin(
            by=person,
            client_token=uuid5(token, button) if button else token,
            device_at=self.cleaned_data["device_at"],
            device_offset_s=self.cleaned_data["device_offset_s"],
            source=source,
        )


class MarkStepForm(BenchForm):
    """One tap: done as planned, skipped, or open again."""

    mark = forms.ChoiceField(choices=[(m, m) for m in MARKS if m in ("done", "skipped")] + [
        ("open", "open again")
    ])
    remark = forms.CharField(max_length=length_in(BenchStep, "remark"), required=False)


class JoinBenchForm(forms.Form):
    code = forms.CharField(
        label="Your partner's bench code",
        max_length=8,
        help_text="It stands on your partner's page of this exercise, under “Bench code”.",
    )

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).strip().upper()


class AddedStepForm(forms.Form):
    """Which verb is added at the bench, and after which step."""

    verb = forms.CharField(max_length=30)
    after = forms.CharField(max_length=length_in(BenchStep, "after"), required=False)


class WeighingForm(BenchForm):
    target = forms.CharField(max_length=length_in(Reading, "subject"), widget=forms.HiddenInput)
    kind = forms.ChoiceField(
        label="What is weighed",
        choices=[
            (ReadingKind.TARE.value, "tare: the flask, empty"),
            (ReadingKind.GROSS.value, "gross: the flask with the product"),
        ],
        widget=forms.RadioSelect,
    )
    flask_number = forms.CharField(
        label="Number on the flask", max_length=length_in(Reading, "flask_number"), required=False
    )
    balance = forms.CharField(
        label="Balance", max_length=length_in(Reading, "balance"), required=False
    )
    on_pan = forms.MultipleChoiceField(
        label="On the pan",
        choices=[(thing, thing) for thing in ON_PAN],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )

    field_order = ("target", "kind", "mass", "flask_number", "balance", "on_pan")

    def __init__(self, data: Any = None, *, readability_g: float, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.readability = Decimal(str(readability_g))
        decimals = decimals_of(self.readability)
        self.fields["mass"] = BalanceField(
            label="Balance shows, g",
            decimals=decimals,
            help_text=f"All {decimals} decimals, as the balance shows them.",
        )
        self.order_fields(self.field_order)

    def values(self) -> ReadingValues:
        cleaned = self.cleaned_data
        return ReadingValues(
            kind=ReadingKind(cleaned["kind"]),
            subject=cleaned["target"],
            value=cleaned["mass"],
            decimals=decimals_of(cleaned["mass"]),
            unit="g",
            flask_number=cleaned["flask_number"],
            balance=cleaned["balance"],
            readability=self.readability,
            on_pan=cleaned["on_pan"],
        )


class PartForm(BenchForm):
    """A part taken out of the product before it is weighed: two masses of its own vial."""

    target = forms.CharField(max_length=length_in(Reading, "subject"), widget=forms.HiddenInput)
    use = forms.ChoiceField(
        label="The part goes",
        choices=[(use, use) for use in PART_USES],
        widget=forms.RadioSelect,
    )
    text = forms.CharField(label="Whose, or for what", max_length=200, required=False)

    field_order = ("target", "use", "empty", "full", "text")

    def __init__(self, data: Any = None, *, readability_g: float, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.readability = Decimal(str(readability_g))
        decimals = decimals_of(self.readability)
        nothing = f"{Decimal():.{decimals}f}"
        self.fields["empty"] = BalanceField(
            label="Its vial empty, g",
            decimals=decimals,
            help_text=f"{nothing} where the balance was tared with the vial on it.",
        )
        self.fields["full"] = BalanceField(label="Its vial with the part, g", decimals=decimals)
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        empty, full = cleaned.get("empty"), cleaned.get("full")
        if empty is not None and full is not None and full <= empty:
            self.add_error("full", "That is not above the empty vial.")
        return cleaned

    def values(self) -> ReadingValues:
        cleaned = self.cleaned_data
        return ReadingValues(
            kind=ReadingKind.PART,
            subject=cleaned["target"],
            flask=cleaned["use"],
            value=cleaned["empty"],
            value_high=cleaned["full"],
            decimals=decimals_of(cleaned["full"]),
            unit="g",
            text=cleaned["text"],
            readability=self.readability,
        )


def next_weighing(readings: Iterable[Reading]) -> dict[str, Any]:
    """What the next weighing most likely repeats: flask, balance and what was on the pan."""
    last = list(readings)[-1:]
    if not last:
        return {"kind": ReadingKind.TARE.value, "on_pan": ["flask"]}
    return {
        "kind": ReadingKind.GROSS.value,
        "flask_number": last[0].flask_number,
        "balance": last[0].balance,
        "on_pan": last[0].on_pan,
    }


def look_field(label: str, words: tuple[str, ...]) -> forms.ChoiceField:
    return forms.ChoiceField(
        label=label,
        choices=[(word, word) for word in words],
        widget=forms.RadioSelect,
        required=False,
    )


class DryingForm(BenchForm):
    """What was seen at a drying step. What was recorded before is corrected, not asked again."""

    agent_mass = NumberField(
        label="Drying agent used in all, g", unit="g", low=0, high=1000, required=False
    )
    agent_portions = CountField(label="In how many portions", low=1, high=100, required=False)
    agent_look = look_field("The drying agent looks", AGENT_LOOKS)
    liquid_look = look_field("The liquid looks", LIQUID_LOOKS)
    drying_time = NumberField(
        label="Time over the agent, min", unit="min", low=0, high=20_000, required=False
    )

    KINDS = {
        "agent_mass": (ReadingKind.AGENT_MASS, "g"),
        "agent_portions": (ReadingKind.AGENT_PORTIONS, ""),
        "agent_look": (ReadingKind.AGENT_LOOK, ""),
        "liquid_look": (ReadingKind.LIQUID_LOOK, ""),
        "drying_time": (ReadingKind.DRYING_TIME, "min"),
    }

    def __init__(
        self, data: Any = None, *, step_id: str, recorded: Iterable[str] = (), **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.step_id = step_id
        known = set(recorded)
        for name, (kind, _) in self.KINDS.items():
            if kind in known:
                del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not self._filled():
            raise ValidationError("Fill in at least one field.")
        return cleaned

    def _filled(self) -> list[str]:
        return [n for n in self.KINDS if self.cleaned_data.get(n) not in (None, "")]

    def entries(self) -> list[ReadingValues]:
        return [self._values(name) for name in self._filled()]

    def _values(self, name: str) -> ReadingValues:
        kind, unit = self.KINDS[name]
        found = self.cleaned_data[name]
        if isinstance(found, str):
            return ReadingValues(kind=kind, step_id=self.step_id, text=found)
        value = Decimal(found)
        return ReadingValues(
            kind=kind, step_id=self.step_id, value=value, decimals=decimals_of(value), unit=unit
        )


class VolumeForm(BenchForm):
    """The volume of a layer as seen in a flask."""

    flask = forms.ChoiceField(label="In which flask", widget=forms.RadioSelect)
    volume = NumberField(label="Volume, mL", unit="mL", low=0, high=10_000)

    def __init__(
        self, data: Any = None, *, step_id: str, flasks: Iterable[str], **kwargs: Any
    ) -> None:
        super().__init__(data, **kwargs)
        self.step_id = step_id
        self.fields["flask"].choices = [(name, name) for name in flasks]  # type: ignore[attr-defined]

    def values(self) -> ReadingValues:
        value = self.cleaned_data["volume"]
        return ReadingValues(
            kind=ReadingKind.VOLUME,
            step_id=self.step_id,
            flask=self.cleaned_data["flask"],
            value=value,
            decimals=decimals_of(value),
            unit="mL",
        )


class ReagentsUsedForm(BenchForm):
    """Amounts really used, for the lines that have none recorded yet."""

    def __init__(self, data: Any = None, *, lines: Iterable[ReagentLine], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.lines = {line.key: line for line in lines}
        for line in self.lines.values():
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
        if not self.errors and not self.entries():
            raise ValidationError("Fill in at least one amount.")
        return cleaned

    def entries(self) -> list[ReadingValues]:
        return [
            ReadingValues(
                kind=ReadingKind.REAGENT,
                subject=key,
                value=value,
                decimals=decimals_of(value),
                unit=unit_of(line),
            )
            for key, line in self.lines.items()
            if (value := self.cleaned_data.get(key)) is not None
        ]


def unit_of(line: ReagentLine) -> str:
    return "mL" if line.volume_mL is not None else "g" if line.mass_g is not None else "mmol"


AGREES = (("yes", "agrees with the product"), ("no", "does not agree"), ("", "cannot tell"))


class WitnessForm(BenchForm):
    """A sign of identity or purity."""

    target = forms.CharField(max_length=length_in(Reading, "subject"), widget=forms.HiddenInput)
    witness_kind = forms.ChoiceField(
        label="Sign",
        choices=[(kind, kind) for kind in WITNESS_KINDS],
        widget=forms.RadioSelect,
    )
    text = forms.CharField(
        label="What was seen", max_length=length_in(Reading, "text"), required=False
    )
    low = NumberField(label="Melts from, °C", unit="°C", low=-100, high=400, required=False)
    high = NumberField(label="to, °C", unit="°C", low=-100, high=400, required=False)
    agrees = forms.ChoiceField(
        label="It", choices=AGREES, widget=forms.RadioSelect, required=False
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        low, high = cleaned.get("low"), cleaned.get("high")
        if low is not None and high is not None and high < low:
            self.add_error("high", "The range ends below where it begins.")
        if not self.errors and not cleaned.get("text") and low is None:
            raise ValidationError("Write what was seen, or the melting range.")
        return cleaned

    def values(self) -> ReadingValues:
        cleaned = self.cleaned_data
        low, high = cleaned["low"], cleaned["high"]
        decimals = max((decimals_of(v) for v in (low, high) if v is not None), default=0)
        return ReadingValues(
            kind=ReadingKind.WITNESS,
            subject=cleaned["target"],
            witness_kind=cleaned["witness_kind"],
            text=cleaned["text"],
            value=low,
            value_high=high,
            decimals=decimals,
            unit="°C" if low is not None else "",
            agrees={"yes": True, "no": False}.get(cleaned["agrees"]),
        )
