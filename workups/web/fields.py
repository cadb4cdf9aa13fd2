"""Form fields for what is measured: numbers with a range and unit, balance readings, flasks."""

import re
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Model

from workups.chemistry.fields import FLASK_LENGTH, spec_of
from workups.chemistry.readings import Weighing
from workups.models.bench import READING_DECIMALS
from workups.words.numbers import plain

MOST_ROWS = 2**31 - 1  # of a PositiveIntegerField on PostgreSQL
_PLAIN_NUMBER = re.compile(r"[-+]?(\d{1,9}([.,]\d{0,9})?|[.,]\d{1,9})")


def read_decimal(text: str, unit: str = "") -> Decimal:
    """A number as typed, with or without its unit; its decimals kept, a comma for the point."""
    typed = text.replace("\u2212", "-").replace("\u00a0", " ").strip()
    if unit and typed.casefold().endswith(unit.casefold()):
        typed = typed[: -len(unit)].rstrip()
    if not _PLAIN_NUMBER.fullmatch(typed):
        raise ValidationError("A number is expected here, such as 12.5.", code="number")
    return Decimal(typed.replace(",", "."))


def length_in(model: type[Model], name: str) -> int:
    """How long the text of a column may be: the bound of the field that fills it."""
    longest = model._meta.get_field(name).max_length  # type: ignore[union-attr]
    assert isinstance(longest, int)
    return longest


def decimals_of(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


class VersionField(forms.IntegerField):
    """Which state of something a page shows: a count from 0 to what a column of every database
    holds."""

    def __init__(self, *, min_value: int = 0, **kwargs: Any) -> None:
        super().__init__(min_value=min_value, max_value=MOST_ROWS, **kwargs)


class NumberField(forms.Field):
    """A number from `low` to `high` in `unit`; gives a Decimal.

    `most_decimals` are as many as its column holds.
    """

    widget = forms.TextInput

    def __init__(
        self,
        *,
        unit: str = "",
        low: float | None = None,
        high: float | None = None,
        most_decimals: int = READING_DECIMALS,
        **kwargs: Any,
    ) -> None:
        self.unit, self.low, self.high = unit, low, high
        self.most_decimals = most_decimals
        super().__init__(**kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        attrs = super().widget_attrs(widget)
        most = self.most_decimals
        number = rf"[\-+\u2212]?(\d+([.,]\d{{0,{most}}})?|[.,]\d{{1,{most}}})"
        pattern = rf"\s*{number}\s*{self._unit_pattern()}"
        return {**attrs, "inputmode": "decimal", "autocomplete": "off", "pattern": pattern}

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values or (isinstance(value, str) and not value.strip()):
            return None
        return read_decimal(str(value), self.unit)

    def _unit_pattern(self) -> str:
        """The unit as it may be typed behind the number, for the browser's own check."""
        return rf"({re.escape(self.unit)}\s*)?" if self.unit.isalpha() else ""

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is None:
            return
        if (self.low is not None and value < self.low) or (
            self.high is not None and value > self.high
        ):
            raise ValidationError(f"{self.range_in_words()} is expected here.", code="range")
        if decimals_of(value) > self.most_decimals:
            places = "decimal" if self.most_decimals == 1 else "decimals"
            raise ValidationError(f"At most {self.most_decimals} {places}.", code="decimals")

    def range_in_words(self) -> str:
        unit = f"\u00a0{self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"Between {plain(self.low)} and {plain(self.high)}{unit}"
        if self.low is not None:
            return f"At least {plain(self.low)}{unit}"
        return f"At most {plain(self.high or 0)}{unit}"

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, float) else value


class CountField(NumberField):
    """A whole number; gives an int."""

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return {**super().widget_attrs(widget), "inputmode": "numeric"}

    def clean(self, value: Any) -> int | None:
        number = super().clean(value)
        if number is None:
            return None
        if number != number.to_integral_value():
            raise ValidationError("A whole number is expected here.", code="whole")
        return int(number)


class BalanceField(NumberField):
    """A balance reading in g with exactly the decimals that the balance shows."""

    def __init__(self, *, decimals: int, **kwargs: Any) -> None:
        self.decimals = decimals
        mass = spec_of(Weighing, "mass_g")
        super().__init__(unit=mass.unit, low=mass.low, high=mass.high, **kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        pattern = rf"\s*[\-+\u2212]?\d+[.,]\d{{{self.decimals}}}\s*{self._unit_pattern()}"
        title = f"A mass with {self.decimals} decimals."
        return {**super().widget_attrs(widget), "pattern": pattern, "title": title}

    def validate(self, value: Any) -> None:
        super().validate(value)
        if value is None or decimals_of(value) == self.decimals:
            return
        raise ValidationError(
            f"The balance shows {self.decimals} decimals: write all of them, as in "
            f"{Decimal('45.3'):.{self.decimals}f}.",
            code="decimals",
        )


class FlaskField(forms.CharField):
    """The name of a flask; `list_id` is the datalist of those there are."""

    def __init__(self, *, list_id: str, **kwargs: Any) -> None:
        self.list_id = list_id
        super().__init__(max_length=FLASK_LENGTH, strip=True, **kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        attrs = super().widget_attrs(widget)
        return {**attrs, "list": self.list_id, "autocomplete": "off"}

    def to_python(self, value: Any) -> str:
        return " ".join((super().to_python(value) or "").split())


class DeviceTimeField(forms.DateTimeField):
    """A device's own clock. What cannot be read is left out: no reading is refused for it."""

    def clean(self, value: Any) -> Any:
        try:
            return super().clean(value)
        except ValidationError:
            return None


class DeviceOffsetField(forms.IntegerField):
    """Seconds to add to a device's clock; left out where it cannot be read or is absurd."""

    def __init__(self, **kwargs: Any) -> None:
        ten_years = 10 * 366 * 24 * 3600
        super().__init__(min_value=-ten_years, max_value=ten_years, **kwargs)

    def clean(self, value: Any) -> Any:
        try:
            return super().clean(value)
        except ValidationError:
            return None
