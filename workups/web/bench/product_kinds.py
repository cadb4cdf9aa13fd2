"""Entries that are readings of one product: weighings, parts taken out, signs of identity."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import Http404

from workups.chemistry.readings import ON_PAN, PART_USES, WITNESS_KINDS
from workups.models import Reading, ReadingKind
from workups.services.entries import ReadingValues, Said
from workups.web.bench.entry import EntryForm, Of, SheetRow, shown
from workups.web.bench.record import Bench
from workups.web.fields import BalanceField, NumberField, decimals_of, length_in
from workups.words.material_facts import substance_name


class OfTarget(EntryForm):
    """A reading of one product. They stand side by side."""

    of = Of.TARGET
    stands_beside = True

    def require_place(self) -> None:
        if self.about not in {target.substance for target in self.bench.exercise.setup.targets}:
            raise Http404

    @property
    def product(self) -> str:
        return substance_name(self.place, self.bench.exercise.setup.tables)

    @property
    def readability(self) -> Decimal:
        """Of the balance, in g."""
        if self.correcting is not None:
            return Decimal(str(float(self.correcting.readability or 0.01)))
        return Decimal(str(self.bench.exercise.setup.glassware.balance_readability_g))


class WeighingForm(OfTarget):
    entry = "weighing"
    button = "Record this reading"
    reads = frozenset({ReadingKind.TARE, ReadingKind.GROSS})
    side_by_side = ("flask_number", "balance")
    at_station = True

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
    text = forms.CharField(
        max_length=length_in(Reading, "text"), required=False, widget=forms.HiddenInput
    )

    field_order = ("kind", "mass", "flask_number", "balance", "on_pan")

    def add_fields(self) -> None:
        decimals = decimals_of(self.readability)
        self.fields["mass"] = BalanceField(
            label="Balance shows, g",
            decimals=decimals,
            help_text=f"All {decimals} decimals, as the balance shows them.",
        )
        self.order_fields(self.field_order)

    def usual(self) -> Mapping[str, Any]:
        """What the last one said again: flask, balance and what was on the pan."""
        mine = [r for r in self.bench.readings if r.subject == self.place and r.kind in self.reads]
        if not mine:
            return {"kind": ReadingKind.TARE.value, "on_pan": ["flask"]}
        kept = {name: getattr(mine[-1], name) for name in ("flask_number", "balance", "on_pan")}
        return {"kind": ReadingKind.GROSS.value, **kept}

    def name(self) -> str:
        return f"Weighing of {self.product}"

    def said(self) -> list[Said]:
        cleaned = self.cleaned_data
        return [
            ReadingValues(
                kind=ReadingKind(cleaned["kind"]),
                subject=self.place,
                value=cleaned["mass"],
                decimals=decimals_of(cleaned["mass"]),
                unit="g",
                text=cleaned["text"],
                flask_number=cleaned["flask_number"],
                balance=cleaned["balance"],
                readability=self.readability,
                on_pan=cleaned["on_pan"],
            )
        ]

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        same = ("kind", "flask_number", "balance", "on_pan", "text")
        kept = {name: getattr(reading, name) for name in same}
        return {**kept, "mass": shown(reading.value, reading)}

    @classmethod
    def on_sheet(cls, _bench: Bench, about: str) -> Iterable[SheetRow]:
        for row, title in WEIGHINGS:
            names = {
                "flask_number": f"flask--{about}",
                "mass": f"{row}--{about}",
                "balance": f"balance--{row}--{about}",
                "on_pan": f"pan--{row}--{about}",
                "text": f"initials--{row}--{about}",
            }
            at = title.lower()
            labels = (f"{title}, g", f"Balance at: {at}", f"On the pan at: {at}",
                      f"TA's initials at: {at}")  # fmt: skip
            yield SheetRow(
                names,
                {"kind": row.split("-")[0]},
                dict(zip(list(names.values())[1:], labels, strict=True)),
                shared=frozenset({"flask_number"}),
            )


WEIGHINGS = (("tare", "Tare"), ("gross-1", "Gross"), ("gross-2", "Gross again"),
             ("gross-3", "Gross a third time"))  # fmt: skip


class PartForm(OfTarget):
    """A part taken out of the product before it is weighed: two masses of its own vial."""

    entry = "part"
    summary = "Record a part taken out before the gross reading"
    lead = (
        "For a divided sample: a partner's share, or what is kept for or used in a test. It is "
        "added to the mass by difference."
    )
    button = "Record this part"
    reads = frozenset({ReadingKind.PART})
    at_station = True

    use = forms.ChoiceField(
        label="The part goes", choices=[(use, use) for use in PART_USES], widget=forms.RadioSelect
    )
    text = forms.CharField(label="Whose, or for what", max_length=200, required=False)

    field_order = ("use", "empty", "full", "text")

    def add_fields(self) -> None:
        decimals = decimals_of(self.readability)
        nothing = f"{Decimal():.{decimals}f}"
        self.fields["empty"] = BalanceField(
            label="Its vial empty, g",
            decimals=decimals,
            help_text=f"{nothing} where the balance was tared with the vial on it.",
        )
        self.fields["full"] = BalanceField(label="Its vial with the part, g", decimals=decimals)
        for asked in self.fields.values():
            if asked.required:
                words = "A part needs where it went and both masses."
                asked.error_messages = {**asked.error_messages, "required": words}
        self.order_fields(self.field_order)

    def name(self) -> str:
        return f"Part of {self.product}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        empty, full = cleaned.get("empty"), cleaned.get("full")
        if empty is not None and full is not None and full <= empty:
            self.add_error("full", "That is not above the empty vial.")
        return cleaned

    def said(self) -> list[Said]:
        cleaned = self.cleaned_data
        return [
            ReadingValues(
                kind=ReadingKind.PART,
                subject=self.place,
                flask=cleaned["use"],
                value=cleaned["empty"],
                value_high=cleaned["full"],
                decimals=decimals_of(cleaned["full"]),
                unit="g",
                text=cleaned["text"],
                readability=self.readability,
            )
        ]

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        return {
            "use": reading.flask,
            "empty": shown(reading.value, reading),
            "full": shown(reading.value_high, reading),
            "text": reading.text,
        }

    @classmethod
    def on_sheet(cls, _bench: Bench, about: str) -> Iterable[SheetRow]:
        asked = ("use", "empty", "full")
        use = f"part-use--{about}"
        yield SheetRow(
            {name: f"part-{name}--{about}" for name in asked}, {}, {use: "Part taken out, to"}
        )


AGREES = (("yes", "agrees with the product"), ("no", "does not agree"), ("", "cannot tell"))


class WitnessForm(OfTarget):
    """A sign of identity or purity."""

    entry = "witness"
    summary = "Record mp, TLC, IR, odour or appearance"
    button = "Record this sign"
    reads = frozenset({ReadingKind.WITNESS})
    side_by_side = ("low", "high")

    witness_kind = forms.ChoiceField(
        label="Sign", choices=[(kind, kind) for kind in WITNESS_KINDS], widget=forms.RadioSelect
    )
    text = forms.CharField(
        label="What was seen", max_length=length_in(Reading, "text"), required=False
    )
    low = NumberField(label="Melts from, °C", unit="°C", low=-100, high=400, required=False)
    high = NumberField(label="to, °C", unit="°C", low=-100, high=400, required=False)
    agrees = forms.ChoiceField(label="It", choices=AGREES, widget=forms.RadioSelect, required=False)

    def name(self) -> str:
        return f"Sign of {self.product}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        low, high = cleaned.get("low"), cleaned.get("high")
        if low is not None and high is not None and high < low:
            self.add_error("high", "The range ends below where it begins.")
        if not self.errors and not cleaned.get("text") and low is None:
            raise ValidationError("Write what was seen, or the melting range.")
        return cleaned

    def said(self) -> list[Said]:
        cleaned = self.cleaned_data
        low, high = cleaned["low"], cleaned["high"]
        decimals = max((decimals_of(v) for v in (low, high) if v is not None), default=0)
        return [
            ReadingValues(
                kind=ReadingKind.WITNESS,
                subject=self.place,
                witness_kind=cleaned["witness_kind"],
                text=cleaned["text"],
                value=low,
                value_high=high,
                decimals=decimals,
                unit="°C" if low is not None else "",
                agrees={"yes": True, "no": False}.get(cleaned["agrees"]),
            )
        ]

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        return {
            "witness_kind": reading.witness_kind,
            "text": reading.text,
            "low": shown(reading.value, reading),
            "high": shown(reading.value_high, reading),
            "agrees": {True: "yes", False: "no", None: ""}[reading.agrees],
        }

    @classmethod
    def on_sheet(cls, _bench: Bench, about: str) -> Iterable[SheetRow]:
        for kind in ("appearance", "odour", "TLC", "IR"):
            name, title = f"sign--{kind}--{about}", kind[:1].upper() + kind[1:]
            yield SheetRow({"text": name}, {"witness_kind": kind}, {name: title})
        low, high = f"mp-from--{about}", f"mp-to--{about}"
        yield SheetRow({"low": low, "high": high}, {"witness_kind": "mp"}, {high: "Melts to, °C"})
