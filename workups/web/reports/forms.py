from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from workups.models.review import CHECK_CHOICES


class ReportForm(forms.Form):
    """Answers to the task's questions and the student's own explanation, which is required where
    `is_required`. With nothing written at all it asks once whether that is meant."""

    explanation = forms.CharField(
        label="Your explanation",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def __init__(
        self,
        *args: object,
        is_required: bool,
        questions: Sequence[str],
        answers: Sequence[Mapping[str, str]] = (),
        **kwargs: object,
    ) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.questions = questions
        before = {one["question"]: one["answer"] for one in answers}
        for number, question in enumerate(questions, 1):
            self.fields[f"answer-{number}"] = forms.CharField(
                label=question,
                max_length=2000,
                required=False,
                initial=before.get(question, ""),
                widget=forms.Textarea(attrs={"rows": 3}),
            )
        self.asks_if_empty = False
        field = self.fields["explanation"]
        field.required = is_required
        field.help_text = (
            "The yield is above 100 %: more was weighed than could have been made. What else was "
            "in the flask, and how could you find out?"
            if is_required
            else "What you think happened: what went into the other layer, what was lost, what "
            "else was weighed. Deviations from the plan too."
        )
        field.error_messages["required"] = "Above 100 % an explanation in your own words is needed."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not any(cleaned.values()) and "empty" not in self.data:
            self.asks_if_empty = True
            raise forms.ValidationError("Nothing is written. Is the report meant to be empty?")
        return cleaned

    def answers(self) -> list[tuple[str, str]]:
        """Each question with what was written; only after `is_valid`."""
        said = [self.cleaned_data[f"answer-{n}"] for n in range(1, len(self.questions) + 1)]
        return list(zip(self.questions, said, strict=True))

    @property
    def answer_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name != "explanation"]


class QueryForm(forms.Form):
    check_name = forms.ChoiceField(
        label="About",
        choices=[("", "the whole report"), *CHECK_CHOICES],
        required=False,
    )
    text = forms.CharField(
        label="Your question",
        max_length=2000,
        help_text="What you think should be marked differently, and why.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
