"""What every kind of entry at the bench has."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from typing import Any
from uuid import UUID, uuid4, uuid5

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.urls import reverse
from django.utils import timezone

from workups.chemistry.plan import Step
from workups.models import BenchStep, Reading, ReadingKind
from workups.models.bench import set_right
from workups.services.entries import Correction, EntryOrigin, NewEntry, ReadingValues, Said
from workups.web.bench.record import Bench
from workups.web.fields import DeviceOffsetField, DeviceTimeField, length_in


class TokensField(forms.Field):
    """Tokens with blanks between them."""

    widget = forms.HiddenInput

    def to_python(self, value: Any) -> frozenset[UUID]:
        try:
            return frozenset(UUID(token) for token in str(value or "").split())
        except ValueError as error:
            raise ValidationError("These are no tokens.") from error


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


class Of(Enum):
    """What an entry is about, and so where its form stands."""

    STEP = "step"
    TARGET = "target"
    RECORD = "record"
    READING = "reading"


def anchor_of(reading: Reading) -> str:
    """The place of a reading on the bench page."""
    if reading.step_id:
        return f"step-{reading.step_id}"
    return "reagents" if reading.kind == ReadingKind.REAGENT else f"target-{reading.subject}"


@dataclass(frozen=True)
class SheetRow:
    """Room for one entry on the printed sheet.

    `names` gives each field that stands there the sheet's name for it, `labels` its words there.
    `given` is what the row says by being that row. What is in `shared` stands in several rows and
    fills none of them.
    """

    names: Mapping[str, str]
    given: Mapping[str, str] = field(default_factory=dict)
    labels: Mapping[str, str] = field(default_factory=dict)
    shared: frozenset[str] = frozenset()


def shown(value: Decimal | None, reading: Reading) -> str:
    """A value with the decimals it was read with."""
    return "" if value is None else f"{value:.{reading.decimals}f}"


def reason_field(label: str) -> forms.CharField:
    return forms.CharField(label=label, max_length=length_in(Reading, "reason"))


class EntryForm(BenchForm):
    """One entry: its kind is the class, `about` the step, product, verb or reading it is about.

    With `correcting` it asks for that reading anew, and for the reason.
    """

    entry: str
    of: Of
    summary = ""  # what a fold or link calls it
    lead = ""
    button = "Record"
    reads: frozenset[ReadingKind] = frozenset()  # the readings that it makes
    side_by_side: tuple[str, ...] = ()
    at_station = False
    stands_beside = False  # said again it does not take the place of what was said before

    seen = TokensField(required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        bench: Bench,
        about: str = "",
        correcting: Reading | None = None,
        initial: Mapping[str, Any] | None = None,
        **kwargs: Any,
    ) -> None:
        self.bench, self.about, self.correcting = bench, about, correcting
        self.place = correcting.subject or correcting.step_id if correcting else about
        if correcting is None:
            self.require_place()
        seen = " ".join(str(row.client_token) for row in self.standing())
        asked = self.values_of(correcting) if correcting else self.usual()
        is_asked_again = correcting is not None and self.of is not Of.READING
        entry = "correct" if is_asked_again else self.entry
        kwargs.setdefault("auto_id", f"{entry}-{about}-%s" if about else f"{entry}-%s")
        super().__init__(data, initial={"seen": seen, **asked, **(initial or {})}, **kwargs)
        self.add_fields()
        if correcting is not None:
            self._ask_again(correcting)

    # ---- what a kind says of itself ------------------------------------------------------------

    def require_place(self) -> None:
        """Raise Http404 where there is no such thing to say something about."""

    def add_fields(self) -> None:
        """Fields that hang on the exercise."""

    def said(self) -> list[Said]:
        """What was filled in; only after `is_valid`."""
        raise NotImplementedError

    def values_of(self, reading: Reading) -> Mapping[str, Any]:
        """A reading as this form asks for it: names of fields and what stands in them."""
        raise NotImplementedError

    def usual(self) -> Mapping[str, Any]:
        """What most likely stands in the fields."""
        return {}

    def name(self) -> str:
        """What the entry is called in a list of what waits."""
        return self.summary

    @property
    def heading(self) -> str:
        return self.words

    @classmethod
    def takes(cls, _step: Step) -> bool:
        """Whether it is asked at this kind of step."""
        return False

    @classmethod
    def on_sheet(cls, bench: Bench, about: str) -> Iterable[SheetRow]:
        """The rows it has on the printed sheet: by itself one, with all its fields."""
        asked = [f.name for f in cls(bench=bench, about=about).visible_fields()]
        yield SheetRow({name: f"{name.replace('_', '-')}--{about}" for name in asked})

    # ---- the same for every kind ---------------------------------------------------------------

    def _ask_again(self, reading: Reading) -> None:
        asked = {*self.values_of(reading), *BenchForm.base_fields, "seen"}
        for name in set(self.fields) - asked:
            del self.fields[name]
        if len(self.visible_fields()) == 1:
            self.visible_fields()[0].field.required = True
        self.fields["reason"] = reason_field("Why is it corrected")
        self.entry, self.button = "correct", "Record the correction"

    def standing(self) -> list[BenchStep | Reading]:
        """Rows that the sender can see where this is to stand."""
        if self.correcting is not None:
            return [self.correcting]
        return [] if self.stands_beside else [r for r in self.bench.readings if self._is_here(r)]

    def _is_here(self, reading: Reading) -> bool:
        return reading.kind in self.reads and self.about in (reading.step_id, reading.subject, "")

    def missing(self) -> "EntryForm":
        """The same form without what is recorded already: that is corrected, not asked again."""
        for reading in self.standing():
            if isinstance(reading, Reading) and self.correcting is None:
                for name in self.values_of(reading):
                    self.fields.pop(name, None)
        return self

    @property
    def words(self) -> str:
        old = self.correcting
        return f"Correction of {old.get_kind_display()} {old.shown_value}" if old else self.name()

    @property
    def action(self) -> str:
        about = (self.about,) if self.about else ()
        return reverse("record-entry", args=[self.bench.work.public_id, self.entry, *about])

    @property
    def slot(self) -> str:
        """Entries of one slot say something of one place; empty where each stands for itself."""
        if self.correcting is not None:
            return f"reading {self.about}"
        return "" if self.stands_beside else f"{self.entry} {self.about}"

    @property
    def anchor(self) -> str:
        """Where a page has its form, or a note that it waits."""
        if self.correcting is not None:
            return f"correct-{self.about}"
        return "reagents" if self.of is Of.RECORD else f"{self.of.value}-{self.place}"

    @property
    def returns_to(self) -> str:
        """The place on the bench page to look at when it is recorded."""
        return anchor_of(self.correcting) if self.correcting else self.anchor

    @property
    def rows(self) -> list[list[BoundField]]:
        """The fields in printing order; some of them side by side."""
        rows: list[list[BoundField]] = []
        for asked in self.visible_fields():
            beside = self.side_by_side
            if rows and asked.name in beside and rows[-1][0].name in beside:
                rows[-1].append(asked)
            else:
                rows.append([asked])
        return rows

    def new_entry(self) -> NewEntry:
        """What is to be recorded, by whom and from where; only after `is_valid`."""
        said = self.said()
        if self.correcting is not None:
            (values,) = [one for one in said if isinstance(one, ReadingValues)]
            said = [Correction(self.correcting, values, self.cleaned_data["reason"])]
        return NewEntry(self.origin(), said)

    def origin(self, button: str = "") -> EntryOrigin:
        """Who sends this; where a form has several buttons, each is an entry of its own."""
        cleaned = self.cleaned_data
        token = cleaned["client_token"]
        return EntryOrigin(
            by=self.bench.person,
            client_token=uuid5(token, button) if button else token,
            device_at=cleaned["device_at"],
            device_offset_s=cleaned["device_offset_s"],
            source=self.bench.source,
        )


