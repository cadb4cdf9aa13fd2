from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from workups.documents import (
    DocumentError,
    library_exercise,
    library_names,
    library_text,
    text_of,
)
from workups.documents.limits import MAX_BYTES
from workups.exercise.exercise import FEEDBACK_DETAILS
from workups.models import Assignment, Enrolment, Section
from workups.models.exercises import EARLIEST_DATE, LATEST_DATE
from workups.services.exercises import AssignmentTerms
from workups.services.publishing import SectionTerms
from workups.sheets.content import PAPERS
from workups.sheets.prep_lines import PrepTerms
from workups.web.fields import VersionField
from workups.web.optimistic_lock import OptimisticLockForm

USUAL_SPARE = 10
_LOCAL = "%Y-%m-%dT%H:%M"
_DATE_FORMATS = (_LOCAL, "%Y-%m-%d %H:%M")
_COUNT = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": 4})


def toml_area(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows, "class": "typed", "spellcheck": "false"})


class AddExerciseForm(forms.Form):
    """From the library, from a file, or from its text. Gives `document`."""

    library = forms.ChoiceField(label="From the library", required=False, widget=forms.RadioSelect)
    exercise_file = forms.FileField(
        label="or from a file",
        required=False,
        max_length=200,
        help_text=f"An exercise file, UTF-8, up to {MAX_BYTES // 1000} kB.",
        widget=forms.FileInput(attrs={"accept": ".toml,text/plain,application/toml"}),
    )
    exercise_text = forms.CharField(
        label="or from its text",
        required=False,
        strip=False,
        max_length=MAX_BYTES,
        widget=toml_area(10),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["library"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(name, library_exercise(name).title) for name in library_names()]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        given = [
            name
            for name in ("library", "exercise_file", "exercise_text")
            if cleaned.get(name) and str(cleaned[name]).strip()
        ]
        if not given and not self.errors:
            raise ValidationError("Choose an exercise, a file, or paste its text.")
        if len(given) > 1:
            raise ValidationError("One of the three, please: library, file or text.")
        if given:
            cleaned["document"] = self._read(given[0], cleaned[given[0]])
        return cleaned

    def _read(self, name: str, value: Any) -> str:
        if name == "library":
            return library_text(value)
        if name == "exercise_text":
            return str(value)
        try:
            return text_of(value.read(MAX_BYTES + 1))
        except DocumentError as error:
            raise ValidationError({name: f"This file {error.problems[0].message}."}) from error


class DraftForm(forms.Form):
    """The text of an exercise, and which saved version it began as."""

    document = forms.CharField(
        label="The exercise as text", strip=False, max_length=MAX_BYTES, widget=toml_area(32)
    )
    version = VersionField(min_value=1, widget=forms.HiddenInput)


class LocalDateTimeField(forms.DateTimeField):
    """A date and time as the browser's own field sends it, of this century."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format=_LOCAL)
        super().__init__(widget=widget, input_formats=_DATE_FORMATS, **kwargs)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        """Bounds that the browser checks too."""
        first, last = (date.strftime(_LOCAL) for date in (EARLIEST_DATE, LATEST_DATE))
        return {**super().widget_attrs(widget), "min": first, "max": last}

    def to_python(self, value: Any) -> Any:
        # Checked before a time zone is put on it: there are none at the ends of the calendar.
        found = self._as_typed(value)
        if found is not None and not EARLIEST_DATE <= found <= LATEST_DATE:
            raise ValidationError(
                f"A date from {EARLIEST_DATE.year} to {LATEST_DATE.year} is expected here.",
                code="range",
            )
        return super().to_python(value)

    def _as_typed(self, value: Any) -> datetime | None:
        for form in _DATE_FORMATS:
            with suppress(ValueError, TypeError):
                return datetime.strptime(str(value).strip(), form)  # noqa: DTZ007 (as typed)
        return None


class DatesForm(forms.Form):
    """The three dates of an assignment, in order."""

    opens_at = LocalDateTimeField(label="Opens")
    plan_due = LocalDateTimeField(label="Plan due")
    report_due = LocalDateTimeField(label="Readings and report due")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        opens, plan, report = (cleaned.get(n) for n in ("opens_at", "plan_due", "report_due"))
        if opens and plan and report and not opens < plan <= report:
            raise ValidationError(
                "The dates go in this order: opens, plan due, readings and report due."
            )
        return cleaned


class StoredDatesForm(OptimisticLockForm, DatesForm):
    """The dates of a section that has the exercise already."""


class SectionDatesForm(DatesForm):
    """Dates for one section; asked for only where the section is chosen."""

    chosen = forms.BooleanField(required=False)

    def __init__(
        self,
        data: Any = None,
        *,
        section: Section,
        earlier: Assignment | None,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, prefix=str(section.public_id), initial=initial)
        self.section, self.earlier = section, earlier
        self.fields["chosen"].label = section.name
        if earlier is not None:
            self.fields["chosen"].help_text = (
                f"Has revision {earlier.revision.number}. Who has not begun it gets the new one; "
                "who has keeps theirs."
            )

    def full_clean(self) -> None:
        if self.is_bound and not self.is_chosen():
            for name in ("opens_at", "plan_due", "report_due"):
                self.fields[name].required = False
        super().full_clean()

    def is_chosen(self) -> bool:
        return bool(self["chosen"].value())

    def clean(self) -> dict[str, Any]:
        return super().clean() if self.is_chosen() else self.cleaned_data


class PolicyForm(forms.Form):
    """What holds for every section that is given the exercise now."""

    feedback_detail = forms.ChoiceField(label="Self-check says", required=False)
    feedback_attempts = forms.IntegerField(
        label="Self-checks for each student",
        required=False,
        min_value=0,
        max_value=100,
        help_text="0: as many as wanted. Empty: as the exercise says.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    group_size = forms.TypedChoiceField(
        label="Students who share a bench record",
        coerce=int,
        choices=[(1, "one"), (2, "two"), (3, "three")],
        initial=1,
    )

    def __init__(self, *args: Any, own_detail: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["feedback_detail"]
        assert isinstance(field, forms.ChoiceField)
        own = FEEDBACK_DETAILS.get(own_detail, own_detail)
        field.choices = [("", f"as the exercise says: {own}"), *FEEDBACK_DETAILS.items()]


class ExtensionForm(forms.Form):
    """Later dates for one student of an assignment, with the reason."""

    student = forms.ModelChoiceField(
        Enrolment.objects.none(), to_field_name="public_id", empty_label="choose"
    )
    plan_due = LocalDateTimeField(label="Plan due", required=False)
    report_due = LocalDateTimeField(label="Readings and report due", required=False)
    reason = forms.CharField(max_length=300, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, data: Any = None, *, assignment: Assignment) -> None:
        super().__init__(data)
        self.assignment = assignment
        field = self.fields["student"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = (
            Enrolment.objects.filter(works__assignment=assignment, left_at__isnull=True)
            .select_related("person")
            .order_by("person__display_name")
        )
        named = lambda enrolment: str(enrolment.person)  # noqa: E731
        field.label_from_instance = named  # type: ignore[method-assign]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        plan, report = cleaned.get("plan_due"), cleaned.get("report_due")
        if not plan and not report and not self.errors:
            raise ValidationError("Give at least one later date.")
        for name, given in (("plan_due", plan), ("report_due", report)):
            if given and given <= getattr(self.assignment, name):
                self.add_error(name, "Later than the section's own date, please.")
        return cleaned


class GuardForm(forms.Form):
    """Why an exercise is published although its own model plan fails a check."""

    guard_reason = forms.CharField(
        label="Why it is published all the same",
        max_length=2000,
        help_text="Kept with the exercise.",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": "The model plan does not pass its own checks: say why that is all right."
        },
    )


class PaperForm(forms.Form):
    """On which paper sheets are printed."""

    paper = forms.ChoiceField(
        label="Paper", required=False, choices=[(p, p) for p in PAPERS], initial=PAPERS[0]
    )

    def paper_size(self) -> str:
        valid = getattr(self, "cleaned_data", {}) if self.is_bound else {}
        return valid.get("paper") or PAPERS[0]


class PrepForm(PaperForm):
    """How much more the stockroom puts out, what the room has, and on which paper."""

    spare = forms.TypedChoiceField(
        label="Spare",
        coerce=int,
        choices=[(p, f"{p} %") for p in (0, 5, 10, 15, 20, 30, 50)],
        initial=USUAL_SPARE,
    )
    balances = forms.IntegerField(
        label="Balances", required=False, min_value=1, max_value=100, widget=_COUNT
    )
    evaporators = forms.IntegerField(
        label="Rotary evaporators", required=False, min_value=1, max_value=100, widget=_COUNT
    )
    def terms(self) -> PrepTerms:
        """What was asked for; the usual in place of what cannot be read."""
        valid = getattr(self, "cleaned_data", {}) if self.is_bound else {}
        return PrepTerms(
            spare=valid.get("spare", USUAL_SPARE) / 100,
            balances=valid.get("balances"),
            evaporators=valid.get("evaporators"),
        )


def terms_of(dates: DatesForm, policy: PolicyForm) -> AssignmentTerms:
    """Two valid forms as the terms of an assignment."""
    return AssignmentTerms(
        **{name: dates.cleaned_data[name] for name in ("opens_at", "plan_due", "report_due")},
        **policy.cleaned_data,
    )


def chosen_sections(forms_: Sequence[SectionDatesForm], policy: PolicyForm) -> list[SectionTerms]:
    return [SectionTerms(f.section, terms_of(f, policy)) for f in forms_ if f.is_chosen()]


def suggested_dates() -> dict[str, datetime]:
    """Now, plan in a week, report in two, both in the evening."""
    now = timezone.localtime().replace(second=0, microsecond=0)
    evening = now.replace(hour=20, minute=0)
    return {
        "opens_at": now,
        "plan_due": evening + timedelta(days=7),
        "report_due": evening + timedelta(days=14),
    }
