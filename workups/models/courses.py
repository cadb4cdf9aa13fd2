import re
import unicodedata
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from workups.models.people import Person
from workups.models.public import PublicIdModel


class Role(models.TextChoices):
    INSTRUCTOR = "instructor", "Instructor"
    TA = "ta", "TA"
    STUDENT = "student", "Student"
    STOCKROOM = "stockroom", "Stockroom"


@dataclass(frozen=True)
class SafetyLink:
    """A link that the instructor sets, to a safety data sheet or a local rule."""

    label: str
    url: str


class Course(PublicIdModel):
    title = models.CharField(max_length=200)
    term = models.CharField(max_length=100)
    emergency_text = models.TextField(
        blank=True,
        max_length=2000,
        help_text="Shown on every bench page and sheet: whom to call, where the eye wash is.",
    )
    sds_links = models.JSONField("safety-data-sheet links", default=list, blank=True)
    anonymous_marking = models.BooleanField(
        "hide students' names while reports are marked", default=False
    )
    filling = models.CharField(
        max_length=120,
        blank=True,
        editable=False,
        help_text="What of a demo course is still being made, in words; empty once all is there.",
    )
    archived_at = models.DateTimeField(null=True, blank=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ("-created_at", "title")

    def __str__(self) -> str:
        return f"{self.title}, {self.term}"

    @property
    def is_archived(self) -> bool:
        return self.archived_at is not None

    @property
    def safety_links(self) -> list[SafetyLink]:
        return [SafetyLink(label=link["label"], url=link["url"]) for link in self.sds_links]


def fold_name(name: str) -> str:
    """What tells section names apart: `Mon A` and `mon a` are one, however they are encoded."""
    folded = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(unicodedata.normalize("NFKC", folded).split())


WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
DAY_NAME = re.compile("mon|tues?|wed|thu(rs?)?|fri|sat|sun"
                      "|(mon|tues|wednes|thurs|fri|satur|sun)days?")


class Section(PublicIdModel):
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="sections")
    name = models.CharField(max_length=60)
    meets = models.CharField(
        max_length=200, blank=True, help_text="Day, time and room, as you would tell a student."
    )

    class Meta:
        ordering = ("name",)
        constraints = (
            models.UniqueConstraint(
                fields=("course", "name"),
                name="section_name_once_per_course",
                violation_error_message="This course already has a section of that name.",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def place_in_week(self) -> tuple[int, str]:
        """What sections are sorted by where people look for them: the first day of the week that
        when they meet, or else their name, speaks of (at the end where none), then the name."""
        words = re.findall("[a-z]+", f"{self.meets} {self.name}".lower())
        days = (WEEKDAYS.index(word[:3]) for word in words if DAY_NAME.fullmatch(word))
        return next(days, len(WEEKDAYS)), self.name


class Enrolment(PublicIdModel):
    """A person's one role in one course."""

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="enrolments")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="enrolments")
    role = models.CharField(max_length=12, choices=Role)
    section = models.ForeignKey(
        Section,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="student_enrolments",
        help_text="A student's section.",
    )
    assigned_sections = models.ManyToManyField(
        Section, blank=True, related_name="ta_enrolments", help_text="A TA's sections."
    )
    outside_id = models.CharField(
        max_length=200, blank=True, help_text="The person's identifier in the gradebook."
    )
    left_at = models.DateTimeField(null=True, blank=True, editable=False)
    was_staff = models.BooleanField(
        default=False,
        editable=False,
        help_text="Whether the person was ever more than a student here; it stays when they are.",
    )

    class Meta:
        ordering = ("person__display_name", "person__sign_in")
        constraints = (
            models.UniqueConstraint(fields=("course", "person"), name="one_role_per_course"),
            models.CheckConstraint(
                name="only_students_have_a_section",
                condition=models.Q(section__isnull=True) | models.Q(role=Role.STUDENT),
            ),
            models.CheckConstraint(
                name="whoever_teaches_was_staff",
                condition=models.Q(role=Role.STUDENT) | models.Q(was_staff=True),
            ),
        )

    def __str__(self) -> str:
        return f"{self.person} ({self.get_role_display()})"

    @property
    def is_current(self) -> bool:
        return self.left_at is None

    def clean(self) -> None:
        super().clean()
        if self.role == Role.STUDENT and self.section is None:
            raise ValidationError({"section": "A student belongs to a section."})
        if self.section is not None and self.section.course_id != self.course_id:
            raise ValidationError({"section": "That section belongs to another course."})
