from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from workups.exercise.exercise import CHECK_TITLES
from workups.models import BenchTick, Enrolment, ExerciseRevision, Remark, Review, Section
from workups.models.review import CHECK_CHOICES, POINT_DECIMALS
from workups.selectors.courses import sections_seen_by
from workups.selectors.gradebook import GradebookColumn, marks_ready
from workups.selectors.marks import most_points
from workups.selectors.review import REASONS, STRAIGHT, QueueFilter, exercises_to_review
from workups.services.review import CommentText, NewPoints
from workups.web.fields import NumberField, VersionField, read_decimal
from workups.web.optimistic_lock import OptimisticLockForm
from workups.words.numbers import MINUS, fixed, plain

SHOW_CHOICES = [
    ("to do", "to do"),
    (Review.State.RETURNED.value, "returned to the student"),
    (Review.State.REVIEWED.value, "reviewed, not released"),
    (Review.State.RELEASED.value, "released"),
    ("all", "all"),
]
REASON_CHOICES = [
    ("", "anything"),
    *((reason.key, reason.words) for reason in REASONS),
    (STRAIGHT.key, STRAIGHT.words),
]


def text_area(rows: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows})


class QueueForm(forms.Form):
    """The queue's query string. Every page of a report carries it on."""

    section = forms.ModelChoiceField(
        Section.objects.none(), required=False, to_field_name="public_id", empty_label="all"
    )
    exercise = forms.ModelChoiceField(
        ExerciseRevision.objects.none(),
        required=False,
        to_field_name="public_id",
        empty_label="all",
    )
    show = forms.ChoiceField(choices=SHOW_CHOICES, required=False)
    reason = forms.ChoiceField(label="Needs eyes for", choices=REASON_CHOICES, required=False)

    def __init__(self, data: QueryDict | dict[str, Any] | None, *, enrolment: Enrolment) -> None:
        super().__init__(data if data is not None else {})
        self._offer("section", sections_seen_by(enrolment).order_by("name"))
        self._offer("exercise", exercises_to_review(enrolment))

    def _offer(self, name: str, queryset: Any) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = queryset

    def wanted(self) -> QueueFilter:
        """The filter; what is not valid narrows nothing."""
        self.is_valid()
        cleaned = self.cleaned_data
        return QueueFilter(
            section=cleaned.get("section"),
            exercise=cleaned.get("exercise"),
            show=cleaned.get("show") or "to do",
            reason=cleaned.get("reason") or "",
        )

    def as_query(self) -> str:
        """The filter as a query string, without what is empty."""
        query = QueryDict(mutable=True)
        for name in self.fields:
            value = self.data.get(name)
            if value and name not in self.errors:
                query[name] = value
        return query.urlencode()


class ReasonForm(forms.Form):
    """Why something is done that another person may ask about."""

    reason = forms.CharField(max_length=1000, widget=text_area(2))

    def __init__(self, data: Any = None, *, label: str = "Reason", **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["reason"].label = label


class ReturnForm(OptimisticLockForm):
    """What is to be corrected. Its seal is of the report's state and points: nobody returns what
    somebody else has accepted or changed meanwhile without having seen it."""

    reason = forms.CharField(label="What is to be corrected", max_length=1000, widget=text_area(2))


class ClearHoldForm(ReasonForm):
    """The reason for clearing a hold, and whether the student is admitted with it."""

    admit = forms.BooleanField(required=False)
    seen = VersionField(required=False, widget=forms.HiddenInput)


class AdmissionForm(forms.Form):
    """Admitted, or the admission taken back."""

    admitted = forms.TypedChoiceField(
        choices=[("yes", "yes"), ("no", "no")], coerce=lambda value: value == "yes"
    )


class TickForm(forms.Form):
    kind = forms.ChoiceField(choices=BenchTick.Kind.choices)
    step_id = forms.CharField(max_length=60, required=False)
    remark = forms.CharField(max_length=300, required=False)


class SeenPoints(forms.DecimalField):
    """The points that the page showed, so that nobody changes what they have not seen."""

    def __init__(self) -> None:
        super().__init__(required=False, max_digits=7, decimal_places=2, widget=forms.HiddenInput)

    def clean(self, value: Any) -> Decimal | None:
        """What cannot be read was not on the page; nobody could mend it there either."""
        try:
            found: Decimal | None = super().clean(value)
        except ValidationError:
            return None
        return found


class AcceptForm(forms.Form):
    """The points that are accepted, as the page showed them."""

    seen = SeenPoints()


class PointsForm(forms.Form):
    """New points for a check, with the reason; `finding_code` where a finding is overruled."""

    check_name = forms.ChoiceField(choices=CHECK_CHOICES, widget=forms.HiddenInput)
    finding_code = forms.CharField(max_length=60, required=False, widget=forms.HiddenInput)
    step_id = forms.CharField(max_length=60, required=False, widget=forms.HiddenInput)
    seen = SeenPoints()
    points = NumberField(label="New points", low=0, most_decimals=POINT_DECIMALS)
    reason = forms.CharField(max_length=1000, widget=text_area(2))

    def __init__(
        self, data: Any = None, *, place: Iterable[str], out_of: float, **kwargs: Any
    ) -> None:
        """`place`: check, finding and step that it stands beside, as far as there are any."""
        ids = "-".join(filter(None, place)).replace("%", "%%")
        super().__init__(with_sum(data), auto_id=f"{ids}-%s", **kwargs)
        field = self.fields["points"]
        assert isinstance(field, NumberField)
        field.high = most_points(out_of)
        field.help_text = f"Of {plain(out_of)}. A change will do too: +1 or −0.5."

    def show_again(self, seen: Decimal) -> None:
        """Sent once more, the form is about the points that stand now."""
        self.data = {**dict(self.data.items()), "seen": str(seen)}

    def change(self) -> NewPoints:
        return NewPoints(**self.cleaned_data)

    def is_for(self, check_name: str, finding_code: str = "", step_id: str = "") -> bool:
        """Whether a bound form was sent from this place of the page."""
        return self.is_bound and place_sent(self.data) == [check_name, finding_code, step_id]


def with_sum(data: Mapping[str, str] | None) -> Mapping[str, str] | None:
    """What was sent, with a change ("+1", "−0.5") added to the points that the page showed."""
    typed = ((data or {}).get("points") or "").strip()
    if data is None or not typed.startswith(("+", "-", MINUS)):
        return data
    try:
        points = read_decimal(data.get("seen") or "") + read_decimal(typed)
    except ValidationError:
        return data
    return {**dict(data.items()), "points": f"{points.normalize():f}"}


def place_sent(data: Mapping[str, str]) -> list[str]:
    """Check, finding and step that a points form names; nothing is said of what is in them."""
    return [data.get(name, "") for name in ("check_name", "finding_code", "step_id")]


class CommentForm(forms.Form):
    """A remark of one's own, a reusable one, or both."""

    remark = forms.ModelChoiceField(
        Remark.objects.none(),
        label="A remark used before",
        required=False,
        to_field_name="public_id",
        empty_label="none",
    )
    text = forms.CharField(label="Comment", required=False, max_length=3000, widget=text_area(4))
    for_staff = forms.BooleanField(label="For staff only", required=False)
    keep = forms.BooleanField(label="Keep these words for other reports", required=False)

    def __init__(self, data: Any = None, *, remarks: Any) -> None:
        super().__init__(data)
        field = self.fields["remark"]
        assert isinstance(field, forms.ModelChoiceField)
        field.queryset = remarks

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not cleaned.get("remark") and not (cleaned.get("text") or "").strip():
            raise ValidationError("Write a comment or choose a remark.")
        return cleaned

    def comment(self) -> CommentText:
        cleaned = self.cleaned_data
        parts = [cleaned["remark"].text if cleaned["remark"] else "", cleaned["text"].strip()]
        keep = cleaned["keep"] and bool(parts[1])
        return CommentText("\n\n".join(p for p in parts if p), "", cleaned["for_staff"], keep)


class ComparedForm(forms.Form):
    """Points for every check of a compared report; begins with what was given, else computed."""

    def __init__(
        self, data: Any = None, *, computed: dict[str, tuple[float, float]], given: dict[str, float]
    ) -> None:
        super().__init__(data)
        self.checks = list(computed)
        for name, (points, out_of) in computed.items():
            self.fields[f"points-{name}"] = NumberField(
                label=CHECK_TITLES[name],
                low=0,
                high=most_points(out_of),
                most_decimals=POINT_DECIMALS,
                help_text=f"Of {plain(out_of)}; computed {fixed(points, 1)}.",
                initial=f"{given.get(name, points):.2f}".rstrip("0").rstrip("."),
            )
        self.fields["remark"] = forms.CharField(
            label="Why", required=False, max_length=1000, widget=text_area(2)
        )

    def points(self) -> dict[str, Decimal]:
        return {name: self.cleaned_data[f"points-{name}"] for name in self.checks}


class AnswerForm(OptimisticLockForm):
    """An answer to a student's question, which another TA may give first."""

    answer = forms.CharField(label="Your answer", max_length=2000, widget=text_area(3))


class MarksToGive(forms.ModelMultipleChoiceField):  # type: ignore[type-arg]
    """Exercises, each with how many of its marks are ready."""

    ready: Mapping[int, str] = {}

    def label_from_instance(self, obj: Any) -> str:
        words = self.ready.get(obj.pk)
        return f"{obj}: {words}" if words else str(obj)


class GradebookForm(forms.Form):
    """Which exercises go into the file, and whether marks that are not released do."""

    exercises = MarksToGive(
        ExerciseRevision.objects.none(),
        to_field_name="public_id",
        widget=forms.CheckboxSelectMultiple,
    )
    unreleased = forms.BooleanField(
        label="Reviewed marks that are not released yet, too", required=False
    )

    def __init__(self, data: Any = None, *, exercises: Any) -> None:
        super().__init__(data)
        field = self.fields["exercises"]
        assert isinstance(field, MarksToGive)
        field.ready = marks_ready(exercises)
        field.queryset = exercises
        field.initial = [str(e.public_id) for e in exercises]


class OutsideIdsForm(OptimisticLockForm):
    """What the gradebook calls each exercise; empty for our own title."""

    def __init__(self, data: Any = None, *, columns: Sequence[GradebookColumn]) -> None:
        self.names = {column.key: f"for-{column.key}" for column in columns}
        initial = {self.names[column.key]: column.outside_id for column in columns}
        super().__init__(data, initial=initial)
        for column in columns:
            self.fields[self.names[column.key]] = forms.CharField(
                label=column.title, required=False, max_length=200
            )

    def ids(self) -> dict[str, str]:
        return {key: self.cleaned_data[name] for key, name in self.names.items()}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        given = [cleaned[name] for name in self.names.values() if cleaned.get(name)]
        for name in self.names.values():
            if given.count(cleaned.get(name)) > 1:
                self.add_error(name, "Two exercises cannot have the same identifier.")
        return cleaned
