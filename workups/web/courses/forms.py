import unicodedata
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import URLValidator

from workups.models import Course, Role, SafetyLink, Section
from workups.models.courses import fold_name
from workups.services.new_term import NewTerm
from workups.services.roster.read import (
    MAX_BYTES,
    RosterFile,
    RosterUnreadable,
    decode_roster,
    read_roster,
)
from workups.web.optimistic_lock import OptimisticLockForm

MAX_SECTIONS_AT_ONCE = 40
MAX_SAFETY_LINKS = 40


class OpenCourseForm(forms.Form):
    title = forms.CharField(max_length=200)
    term = forms.CharField(max_length=100, help_text="As you would say it: Autumn 2026.")
    section_names = forms.CharField(
        label="Sections",
        required=False,
        max_length=4000,
        help_text="One name a line. You can add more later, or let the roster bring them.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    def clean_section_names(self) -> list[str]:
        lines = [" ".join(line.split()) for line in self.cleaned_data["section_names"].split("\n")]
        names = [line for line in lines if line]
        if len(names) > MAX_SECTIONS_AT_ONCE:
            raise ValidationError(f"At most {MAX_SECTIONS_AT_ONCE} sections at once.")
        for name in names:
            if len(name) > 60:
                raise ValidationError(f"“{name[:60]}…” is longer than 60 characters.")
            if [fold_name(other) for other in names].count(fold_name(name)) > 1:
                raise ValidationError(f"“{name}” stands here twice.")
        return names


class NewTermForm(forms.Form):
    """A course copied for a new term. Gives `new`, a `NewTerm`."""

    title = forms.CharField(max_length=200)
    term = forms.CharField(max_length=100, help_text="As you would say it: Spring 2027.")
    weeks_later = forms.IntegerField(
        label="Weeks later",
        min_value=1,
        max_value=260,
        initial=52,
        help_text="All dates move by as many weeks; weekday and time of day stay.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    archive_old = forms.BooleanField(
        label="Archive the old course", required=False, help_text="It can then be read only."
    )

    def __init__(self, *args: Any, course: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.course = course

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        same = cleaned.get("title") == self.course.title
        if same and cleaned.get("term") == self.course.term:
            self.add_error("term", "Title and term together tell courses apart: change one.")
        if not self.errors:
            cleaned["new"] = NewTerm(**cleaned)
        return cleaned


class CourseForm(OptimisticLockForm):
    title = forms.CharField(max_length=200)
    term = forms.CharField(max_length=100)
    emergency_text = forms.CharField(
        label="In an emergency",
        required=False,
        max_length=2000,
        help_text="Shown on every bench page and sheet: whom to call, where the eye wash is.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    safety_links = forms.CharField(
        label="Safety data sheets and local rules",
        required=False,
        max_length=8000,
        help_text="One a line: a name, a blank, then the address, which starts with https://",
        widget=forms.Textarea(attrs={"rows": 4}),
    )

    anonymous_marking = forms.BooleanField(
        label="Hide students' names while reports are marked",
        required=False,
        help_text="Queue and reports show a code until the result is released.",
    )

    @staticmethod
    def initial_for(course: Course) -> dict[str, str | bool]:
        return {
            "title": course.title,
            "term": course.term,
            "emergency_text": course.emergency_text,
            "safety_links": "\n".join(f"{link.label} {link.url}" for link in course.safety_links),
            "anonymous_marking": course.anonymous_marking,
        }

    def clean_safety_links(self) -> list[SafetyLink]:
        lines = self.cleaned_data["safety_links"].splitlines()
        links = [read_safety_link(n, line) for n, line in enumerate(lines, 1) if line.strip()]
        if len(links) > MAX_SAFETY_LINKS:
            raise ValidationError(f"At most {MAX_SAFETY_LINKS} links.")
        return links


def read_safety_link(number: int, line: str) -> SafetyLink:
    """`Acetone https://…` as a link."""
    words = line.split()
    if len(words) < 2:
        raise ValidationError(f"Line {number} needs a name and an address.")
    url = words[-1]
    try:
        URLValidator(schemes=["https", "http"])(url)
    except ValidationError as error:
        raise ValidationError(f"Line {number}: {url} is not a web address.") from error
    return SafetyLink(label=" ".join(words[:-1])[:200], url=url)


class SectionForm(OptimisticLockForm):
    name = forms.CharField(max_length=60)
    meets = forms.CharField(
        required=False, max_length=200, help_text="Day, time and room, as you would tell a student."
    )

    def __init__(
        self, *args: Any, course: Course, section: Section | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.course = course
        self.section = section

    def clean_name(self) -> str:
        name = unicodedata.normalize("NFC", " ".join(self.cleaned_data["name"].split()))
        others = Section.objects.filter(course=self.course)
        if self.section is not None:
            others = others.exclude(pk=self.section.pk)
        if fold_name(name) in {fold_name(other.name) for other in others}:
            raise ValidationError("This course already has a section of that name.")
        return name


class RosterSearchForm(forms.Form):
    words = forms.CharField(label="Name or identifier", required=False, max_length=200)
    section = forms.ModelChoiceField(
        Section.objects.none(), required=False, to_field_name="public_id", empty_label="All"
    )
    role = forms.ChoiceField(choices=[("", "All"), *Role.choices], required=False)

    def __init__(self, *args: Any, course: Course, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["section"]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = Section.objects.filter(course=course)


class RosterUploadForm(forms.Form):
    """A file, or its text. The text goes back into the page, so that it can be mended there."""

    roster_file = forms.FileField(
        label="Roster file",
        required=False,
        max_length=200,
        help_text="CSV in UTF-8, up to 1 MB.",
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,text/csv,text/plain"}),
    )
    roster_text = forms.CharField(
        label="or its text",
        required=False,
        max_length=MAX_BYTES,
        strip=False,
        help_text="Paste it here, or mend here what the preview complains about.",
        widget=forms.Textarea(attrs={"rows": 10, "class": "typed", "spellcheck": "false"}),
    )
    remove_missing = forms.BooleanField(
        label="Students who are not in this roster have left the course",
        help_text="Their work is kept; they cannot open the course any more.",
        required=False,
    )
    digest = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    roster: RosterFile

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        upload = cleaned.get("roster_file")
        text = cleaned.get("roster_text", "")
        try:
            if upload is not None:
                text = decode_roster(upload.read(MAX_BYTES + 1))
            elif not text.strip():
                raise ValidationError("Choose a file or paste the roster's text.")
            cleaned["roster_text"] = text
            self.roster = read_roster(text)
        except RosterUnreadable as error:
            raise ValidationError(str(error)) from error
        return cleaned
