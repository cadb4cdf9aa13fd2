from collections.abc import Iterable
from typing import Any, cast

from django import forms
from django.contrib.auth.forms import AuthenticationForm, PasswordChangeForm
from django.http import QueryDict

from workups.models import Person, normalise_sign_in
from workups.services.accounts import TooManyPasswords, confirm_password
from workups.web.accounts.devices import Device


class SignInForm(AuthenticationForm):
    keep = forms.BooleanField(
        label="Keep me signed in on this device",
        help_text="Leave this off on a shared station.",
        required=False,
    )

    def clean_username(self) -> str:
        return normalise_sign_in(self.cleaned_data["username"])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["username"].label = "Sign-in name"
        self.error_messages["invalid_login"] = (
            "This sign-in name and password do not go together. The password minds capitals."
        )


class ForgottenPasswordForm(forms.Form):
    words = forms.CharField(
        label="E-mail or sign-in name",
        max_length=254,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none"}),
    )

    def clean_words(self) -> str:
        return normalise_sign_in(self.cleaned_data["words"])


def require_own_password(person: Person, password: str) -> None:
    try:
        fits = confirm_password(person=person, password=password)
    except TooManyPasswords as refused:
        raise forms.ValidationError(
            "Too many wrong passwords. In a quarter of an hour the next is taken."
        ) from refused
    if not fits:
        raise forms.ValidationError("This is not your password.")


class OwnPasswordChangeForm(PasswordChangeForm):
    def clean_old_password(self) -> str:
        password: str = self.cleaned_data["old_password"]
        require_own_password(self.user, password)
        return password


class PasswordForm(forms.Form):
    """Asks who is signed in for the password once more, before something that protects them."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, person: Person, data: QueryDict | None = None, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.person = person

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        require_own_password(self.person, password)
        return password


def code_field() -> forms.CharField:
    attrs = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
    return forms.CharField(label="Code", max_length=40, widget=forms.TextInput(attrs=attrs))


class CodeForm(forms.Form):
    """A code of the second step."""

    code = code_field()


class NewKeyForm(PasswordForm):
    """The first code of a new key, and the password."""

    code = code_field()
    field_order = ("code", "password")


class OtherDevicesForm(PasswordForm):
    """One of the person's other devices, or all of them."""

    ALL = "all"
    device = forms.ChoiceField(label="Sign out", widget=forms.RadioSelect)
    field_order = ("device", "password")

    def __init__(
        self,
        person: Person,
        devices: Iterable[Device],
        own_session: str | None,
        data: QueryDict | None = None,
    ) -> None:
        super().__init__(person, data, auto_id="devices-%s")
        by_session = {device.session_key: device for device in devices}
        self.this_device = by_session.pop(own_session or "", None)
        self.devices = {device.key: device for device in by_session.values()}
        words = [(device.key, device.text) for device in self.devices.values()]
        cast(forms.ChoiceField, self.fields["device"]).choices = [
            *words,
            (self.ALL, "All of these"),
        ]

    def chosen(self) -> Device | None:
        """The device; None stands for all."""
        return self.devices.get(self.cleaned_data["device"])


class EmailForm(PasswordForm):
    """Whoever holds the e-mail can set the password, so changing it asks for the password."""

    email = forms.EmailField(
        label="E-mail",
        required=False,
        max_length=254,
        help_text="For notices, and to set a new password when you forget it.",
        widget=forms.EmailInput(attrs={"autocomplete": "email"}),
    )
    field_order = ("email", "password")

    def __init__(self, person: Person, data: QueryDict | None = None) -> None:
        super().__init__(person, data, initial={"email": person.email})
