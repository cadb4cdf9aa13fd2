"""Optimistic locks: nobody overwrites what somebody else stored and they have not seen."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from hashlib import sha256
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model
from django.http import HttpRequest
from django.utils import timezone

from workups.services.holding import hold


@contextmanager
def locked_if_sent(request: HttpRequest, *rows: Model) -> Iterator[None]:
    """Around form and service of a page that compares: where it is sent, the rows are held from
    before their values are compared until the new ones are stored."""
    if request.method != "POST":
        yield
        return
    with transaction.atomic():
        for row in rows:
            hold(row)
        yield


class OptimisticLockForm(forms.Form):
    """A form over stored values, its `initial`, that others may change while it is open.

    A hidden field carries a seal of the values that were shown. Sent with another seal than that
    of the values as they stand, the form comes back once, says what stands now, and carries the
    new seal: sent again, it overwrites what was seen. `locked_if_sent` stands around it.
    """

    seen = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._stored = dict(self.initial)
        self.initial["seen"] = self._seal()

    def _seal(self) -> str:
        lines = [f"{name}={value!s}" for name, value in sorted(self._stored.items())]
        return sha256("\n".join(lines).encode()).hexdigest()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        sent, now = cleaned.pop("seen", ""), self._seal()
        if not sent or sent == now:
            return cleaned
        self.data = {**dict(self.data.items()), self.add_prefix("seen"): now}
        raise ValidationError(
            "Somebody changed this while you had it open. "
            f"{self._what_stands()}Send it again to put yours in its place."
        )

    def _what_stands(self) -> str:
        """The stored values that what was sent would replace."""
        others = [
            f"{self[name].label}: {_in_words(self._stored[name])}"
            for name, field in self.fields.items()
            if name in self._stored and field.has_changed(self._stored[name], self[name].data)
        ]
        return f"It says now: {'; '.join(others)}. " if others else ""


def _in_words(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{timezone.localtime(value):%Y-%m-%d %H:%M}"
    text = str(value or "nothing")
    return f"{text[:80]}…" if len(text) > 80 else text
