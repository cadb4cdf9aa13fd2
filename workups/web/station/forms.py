from typing import Any

from django import forms

from workups.models import Work

IDLE_CHOICES = (
    ("2", "2 minutes"),
    ("5", "5 minutes"),
    ("20", "20 minutes"),
)


def pin_field(label: str, **kwargs: Any) -> forms.RegexField:
    """Digits on the numeric keypad, hidden while they are typed."""
    return forms.RegexField(
        r"^[0-9]{4,8}$",
        label=label,
        strip=True,
        error_messages={"invalid": "A PIN has 4 to 8 digits."},
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        **kwargs,
    )


class EnterStationForm(forms.Form):
    code = forms.CharField(
        label="Bench code",
        max_length=8,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "characters"}),
    )
    pin = pin_field("PIN")
    idle = forms.ChoiceField(
        label="Sign out by itself after",
        choices=IDLE_CHOICES,
        initial="2",
        widget=forms.RadioSelect,
    )

    def clean_code(self) -> str:
        return str(self.cleaned_data["code"]).strip().upper()


class StationPinForm(forms.Form):
    """A PIN twice, because it cannot be read while it is typed."""

    pin = pin_field("New PIN", help_text="4 to 8 digits, for the shared station alone.")
    again = pin_field("Again")

    def __init__(self, data: Any = None, *, work: Work, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.work = work

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        pin, again = cleaned.get("pin"), cleaned.get("again")
        if pin and again and pin != again:
            self.add_error("again", "The two are not the same.")
        if pin and len(set(pin)) == 1:
            self.add_error("pin", "One digit over and over is guessed first. Take another PIN.")
        return cleaned
