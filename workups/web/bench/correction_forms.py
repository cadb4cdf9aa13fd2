"""Corrections: the same questions as when the reading was made, and the reason."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from workups.models import LOOK_WORDS, WEIGHING_KINDS, Reading, ReadingKind
from workups.services.bench import ReadingValues
from workups.web.bench.forms import BenchForm, PartForm, WeighingForm, WitnessForm, look_field
from workups.web.fields import NumberField, decimals_of, length_in


class StrikeForm(BenchForm):
    """Strike a reading out without a new one."""

    reason = forms.CharField(label="Why", max_length=length_in(Reading, "reason"))




class CorrectWeighingForm(WeighingForm):
    reason = forms.CharField(label="Why is it corrected", max_length=length_in(Reading, "reason"))


class CorrectPartForm(PartForm):
    reason = forms.CharField(label="Why is it corrected", max_length=length_in(Reading, "reason"))


class CorrectWitnessForm(WitnessForm):
    reason = forms.CharField(label="Why is it corrected", max_length=length_in(Reading, "reason"))


class CorrectLookForm(BenchForm):
    reason = forms.CharField(label="Why is it corrected", max_length=length_in(Reading, "reason"))

    def __init__(self, data: Any = None, *, reading: Reading, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.reading = reading
        words = LOOK_WORDS[ReadingKind(reading.kind)]
        self.fields["look"] = look_field(reading.get_kind_display(), words)
        self.fields["look"].required = True
        self.order_fields(("look", "reason"))

    def values(self) -> ReadingValues:
        old = self.reading
        return ReadingValues(
            kind=ReadingKind(old.kind),
            subject=old.subject,
            step_id=old.step_id,
            flask=old.flask,
            text=self.cleaned_data["look"],
        )


class CorrectValueForm(BenchForm):
    reason = forms.CharField(label="Why is it corrected", max_length=length_in(Reading, "reason"))

    def __init__(self, data: Any = None, *, reading: Reading, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.reading = reading
        unit = f", {reading.unit}" if reading.unit else ""
        self.fields["value"] = NumberField(
            label=f"{reading.get_kind_display()}{unit}", unit=reading.unit, low=0, high=20_000
        )
        self.order_fields(("value", "reason"))

    def values(self) -> ReadingValues:
        old, value = self.reading, self.cleaned_data["value"]
        return ReadingValues(
            kind=ReadingKind(old.kind),
            subject=old.subject,
            step_id=old.step_id,
            flask=old.flask,
            value=value,
            decimals=decimals_of(value),
            unit=old.unit,
        )


def correction_form(reading: Reading, data: Any = None) -> Any:
    """The form that corrects a reading of its kind, with what stands there."""
    kind = ReadingKind(reading.kind)
    if kind in WEIGHING_KINDS:
        readability = float(reading.readability or Decimal("0.01"))
        return CorrectWeighingForm(
            data, readability_g=readability, initial=_weighing_initial(reading)
        )
    if kind == ReadingKind.PART:
        readability = float(reading.readability or Decimal("0.01"))
        return CorrectPartForm(data, readability_g=readability, initial=_part_initial(reading))
    if kind == ReadingKind.WITNESS:
        return CorrectWitnessForm(data, initial=_witness_initial(reading))
    if kind in LOOK_WORDS:
        return CorrectLookForm(data, reading=reading, initial={"look": reading.text})
    shown = "" if reading.value is None else f"{reading.value:.{reading.decimals}f}"
    return CorrectValueForm(data, reading=reading, initial={"value": shown})


def _weighing_initial(reading: Reading) -> Mapping[str, Any]:
    return {
        "target": reading.subject,
        "kind": reading.kind,
        "mass": f"{reading.value:.{reading.decimals}f}",
        "flask_number": reading.flask_number,
        "balance": reading.balance,
        "on_pan": reading.on_pan,
    }


def _part_initial(reading: Reading) -> Mapping[str, Any]:
    return {
        "target": reading.subject,
        "use": reading.flask,
        "empty": f"{reading.value:.{reading.decimals}f}",
        "full": f"{reading.value_high:.{reading.decimals}f}",
        "text": reading.text,
    }


def _witness_initial(reading: Reading) -> Mapping[str, Any]:
    def shown(value: Decimal | None) -> str:
        return "" if value is None else f"{value:.{reading.decimals}f}"

    agrees = {True: "yes", False: "no", None: ""}[reading.agrees]
    return {
        "target": reading.subject,
        "witness_kind": reading.witness_kind,
        "text": reading.text,
        "low": shown(reading.value),
        "high": shown(reading.value_high),
        "agrees": agrees,
    }
