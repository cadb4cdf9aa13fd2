from django import forms

from workups.models.review import CHECK_CHOICES


class ReportForm(forms.Form):
    """The student's own explanation. Required where `is_required`."""

    explanation = forms.CharField(
        label="Your explanation",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def __init__(self, *args: object, is_required: bool, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
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
