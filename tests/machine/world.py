"""The small course that the machine plays in: a short exercise, two sections, all its people.

The exercise is cut out of one of the library, so that an assessment takes hundredths of a second.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from tests.conftest import make_member
from workups.documents import library_text, plan_to_data
from workups.documents.variants import Variant
from workups.models import Assignment, Course, Person, Role, Section, Work
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.planning import save_plan
from workups.services.variants import add_variant

NOW = datetime(2026, 9, 7, 8, 0, tzinfo=UTC)
PLAN_DUE, REPORT_DUE = timedelta(days=2), timedelta(days=7)
KEPT_STEPS = ("cool", "wash-base", "dry", "tare", "filter", "strip", "weigh")
STUDENTS = ("anna", "ben", "cleo", "dora")  # Dora is in the other section
STAFF = ("ta", "instructor", "stockroom")
STRANGERS = ("outsider", "guest")  # the guest studies here too, and elsewhere with the outsider


@dataclass(frozen=True)
class World:
    """People by name, and where they are."""

    people: dict[str, Person]
    course: Course
    sections: tuple[Section, Section]

    def work_of(self, name: str) -> Work | None:
        """A student's work on the exercise, as it stands."""
        return Work.objects.filter(
            enrolment__person=self.people[name], enrolment__course=self.course
        ).first()

    def works(self) -> list[Work]:
        return list(Work.objects.filter(enrolment__course=self.course).order_by("pk"))

    def assignments(self) -> list[Assignment]:
        """Oldest first."""
        found = Assignment.objects.filter(section__course=self.course)
        return list(found.select_related("revision", "section").order_by("pk"))


def short_exercise() -> str:
    """The file of an exercise of seven steps, with one known route."""
    text = library_text("slow-to-leave")
    given, rule, routes = text.partition("# --- the instructor's own route")
    steps = re.findall(r"\[\[model_plan\.step\]\]\n.*?(?=\n\n|\Z)", routes, re.S)
    kept = [step for step in steps if any(f'id = "{name}"' in step for name in KEPT_STEPS)]
    assert rule
    assert len(kept) == len(KEPT_STEPS)
    return f"{given}{rule}\n\n" + "\n\n".join(kept) + "\n"


def build_world() -> World:
    course = Course.objects.create(title="Organic Laboratory II", term="Autumn")
    first, other = (
        Section.objects.create(course=course, name=name) for name in ("Tuesday A", "Friday B")
    )
    elsewhere = Course.objects.create(title="Another course", term="Autumn")
    people = {
        name: make_member(course, name, Role.STUDENT, section=other if name == "dora" else first)
        for name in STUDENTS
    }
    people["ta"] = make_member(course, "ta", Role.TA, assigned_sections=[first, other])
    people["instructor"] = make_member(course, "instructor", Role.INSTRUCTOR)
    people["stockroom"] = make_member(course, "stockroom", Role.STOCKROOM)
    people["outsider"] = make_member(elsewhere, "outsider", Role.INSTRUCTOR)
    room = Section.objects.create(course=elsewhere, name="A")
    people["guest"] = make_member(elsewhere, "guest", Role.STUDENT, section=room)
    publish(people["instructor"], course, (first, other))
    return World(people, course, (first, other))


def publish(instructor: Person, course: Course, sections: tuple[Section, Section]) -> None:
    """The exercise with one variant, given to both sections; the first has a draft of a plan each.

    Who is in the other section has begun nothing.
    """
    text = short_exercise()
    revision = publish_revision(
        actor=instructor, course=course, key="slow-to-leave", title="Slow to leave", document=text
    )
    add_variant(actor=instructor, revision=revision, title="A fifth", variant=Variant(scale=0.2))
    terms = AssignmentTerms(
        opens_at=NOW - timedelta(days=1),
        plan_due=NOW + PLAN_DUE,
        report_due=NOW + REPORT_DUE,
        group_size=2,
    )
    for section in sections:
        assign_revision(actor=instructor, revision=revision, section=section, terms=terms)
    for work in Work.objects.filter(assignment__section=sections[0]):
        data = {"steps": plan_to_data(work.revision.to_core().model_plan)}
        save_plan(actor=work.student, work=work, data=data, base_version=0, change="Wrote it")
