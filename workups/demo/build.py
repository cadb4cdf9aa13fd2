"""Builds the demo course: last week's exercise marked, this week's under way, next week's open."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import NAMESPACE_URL, uuid5

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from workups.demo.people import (
    INSTRUCTOR,
    PER_SECTION,
    SECTIONS,
    STOCKROOM,
    TAS,
    InventedPerson,
    students,
)
from workups.demo.reagents import fill_in_table
from workups.demo.records import write_record
from workups.documents import library_exercise, library_text, plan_to_data
from workups.exercise.exercise import Exercise
from workups.invented_students import SimulatedStudent, planning_mistakes, simulate_student
from workups.models import (
    Assignment,
    Course,
    ExerciseRevision,
    Person,
    Review,
    Role,
    Section,
    Work,
)
from workups.selectors.holds import waits_for_a_word
from workups.services.bench import start_bench
from workups.services.courses import edit_section, enrol_person, open_course
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import lock_readings, submit_report
from workups.services.review import accept_report, release_section

TITLE, TERM = "Organic Laboratory II", "Autumn term, Larkmoor College"
PASSWORD = "larkmoor-demo"  # noqa: S105 (an invented course on this machine alone)
EMERGENCY = (
    "Fire, injury, spill: tell the instructor at once. Eye wash and shower are by the "
    "door. Emergency number: set by your own department."
)
DAY = timedelta(days=1)
Say = Callable[[str], None]
MISTAKE_EVERY = 3
EXPLANATION = ("A little was lost in each transfer and on the drying agent; the flask was weighed "
               "until two readings agreed.")


@dataclass(frozen=True)
class Builder:
    """The people of a course that is being built, and how to report progress."""

    course: Course
    instructor: Person
    say: Say
    now: datetime

    def publish(self, key: str) -> ExerciseRevision:
        """A library exercise as a revision whose seed does not change between builds."""
        exercise = library_exercise(key)
        revision = publish_revision(
            actor=self.instructor,
            course=self.course,
            key=key,
            title=exercise.title,
            document=library_text(key),
        )
        fixed = uuid5(NAMESPACE_URL, f"larkmoor:{key}")
        ExerciseRevision.objects.filter(pk=revision.pk).update(public_id=fixed)
        revision.refresh_from_db()
        return revision

    def give(
        self, revision: ExerciseRevision, section: Section, plan_due: float, report_due: float
    ) -> Assignment:
        """Assign to a section; dates in days from now."""
        terms = AssignmentTerms(
            opens_at=self.now - 16 * DAY,
            plan_due=self.now + plan_due * DAY,
            report_due=self.now + report_due * DAY,
        )
        return assign_revision(
            actor=self.instructor, revision=revision, section=section, terms=terms
        )


def demo_course() -> Course | None:
    """The demo course, if it is there already."""
    return Course.objects.filter(title=TITLE, term=TERM).first()


def build_demo(say: Say, per_section: int = PER_SECTION) -> Course:
    """Make the demo course. It must not exist yet."""
    everyone = students(per_section)
    people = _people(everyone)
    instructor = people[INSTRUCTOR.sign_in]
    course = open_course(
        actor=instructor, title=TITLE, term=TERM, section_names=[name for name, _ in SECTIONS]
    )
    course.emergency_text = EMERGENCY
    course.save(update_fields=["emergency_text"])
    sections = {s.name: s for s in course.sections.all()}
    for name, meets in SECTIONS:
        edit_section(actor=instructor, section=sections[name], name=name, meets=meets)
    _enrol(course, everyone, people, sections)
    builder = Builder(course, instructor, say, timezone.now())
    _last_week(builder, sections)
    _this_week(builder, sections)
    _next_week(builder, sections)
    return course


def _people(everyone: Iterable[InventedPerson]) -> dict[str, Person]:
    """Everybody, all with the demo password (hashed once)."""
    hashed = make_password(PASSWORD)
    found = {}
    for someone in (INSTRUCTOR, *TAS, STOCKROOM, *everyone):
        person = Person.objects.filter(sign_in=someone.sign_in).first()
        if person is None:
            person = Person(
                sign_in=someone.sign_in,
                display_name=someone.name,
                password=hashed,
                may_open_courses=someone is INSTRUCTOR,
            )
            person.full_clean()
            person.save()
        found[someone.sign_in] = person
    return found


def _enrol(
    course: Course,
    everyone: Iterable[InventedPerson],
    people: dict[str, Person],
    sections: dict[str, Section],
) -> None:
    names = [name for name, _ in SECTIONS]
    for ta, taught in zip(TAS, (names[:2], names[2:]), strict=True):
        enrol_person(
            course=course,
            person=people[ta.sign_in],
            role=Role.TA,
            assigned_sections=[sections[n] for n in taught],
        )
    enrol_person(course=course, person=people[STOCKROOM.sign_in], role=Role.STOCKROOM)
    for number, student in enumerate(everyone, start=1):
        enrol_person(
            course=course,
            person=people[student.sign_in],
            role=Role.STUDENT,
            section=sections[student.section],
            outside_id=f"LK{2600 + number}",
        )


def _last_week(builder: Builder, sections: dict[str, Section]) -> None:
    """The plain ether: Monday is marked and released, Tuesday's reports wait for review."""
    revision = builder.publish("plain-ether")
    for name in ("Monday", "Tuesday"):
        builder.say(f"{name}: plans, readings and reports of last week")
        assignment = builder.give(revision, sections[name], 0.2, 0.5)
        for number, work in enumerate(_works(assignment)):
            made = _student(revision.to_core(), seed=100 * (len(name)) + number, number=number)
            _plan(work, made, number)
            _bench(work, made, lock=True)
        if name == "Monday":
            _marked(builder, assignment)


def _marked(builder: Builder, assignment: Assignment) -> None:
    """The first TA has accepted every report of a section and released it."""
    ta = Person.objects.get(sign_in=TAS[0].sign_in)
    builder.say(f"{assignment.section.name}: reports reviewed and released")
    for work in _works(assignment):
        if Review.objects.filter(work=work).exists():
            accept_report(actor=ta, work=work)
    release_section(actor=ta, assignment=assignment)


def _this_week(builder: Builder, sections: dict[str, Section]) -> None:
    """Too much vinegar: Wednesday is at the bench, the others plan."""
    revision = builder.publish("too-much-vinegar")
    for name, _ in SECTIONS:
        builder.say(f"{name}: this week's exercise")
        assignment = builder.give(revision, sections[name], 2.0, 6.0)
        works = _works(assignment)
        if name == "Wednesday":
            _at_the_bench(revision.to_core(), works)
        elif name == "Thursday":
            for number, work in enumerate(works[:6]):
                made = _student(revision.to_core(), seed=900 + number, number=number)
                _plan(work, made, number, submit=number % 2 == 0)


def _at_the_bench(exercise: Exercise, works: list[Work]) -> None:
    for number, work in enumerate(works):
        made = _student(exercise, seed=500 + number, number=number)
        _plan(work, made, number)
        if number < 10 and not waits_for_a_word(work):
            _bench(work, made, lock=False, upto=3 + number)


def _next_week(builder: Builder, sections: dict[str, Section]) -> None:
    """Three in one bottle, open for reading."""
    revision = builder.publish("three-in-one-bottle")
    for name, _ in SECTIONS:
        builder.give(revision, sections[name], 9.0, 13.0)


def _works(assignment: Assignment) -> list[Work]:
    return list(
        assignment.works.select_related("enrolment__person").order_by("enrolment__person__sign_in")
    )


def _student(exercise: Exercise, *, seed: int, number: int) -> SimulatedStudent:
    """Every third student makes a mistake in planning; slips come at the stated priors."""
    mistakes = planning_mistakes(exercise)
    plan = None
    if number % MISTAKE_EVERY == MISTAKE_EVERY - 1 and mistakes:
        keys = sorted(mistakes)
        plan = mistakes[keys[(number // MISTAKE_EVERY) % len(keys)]]
    return simulate_student(exercise, seed, plan=plan)


def _plan(work: Work, made: SimulatedStudent, number: int, *, submit: bool = True) -> None:
    fill_in_table(work, number)
    data = {"steps": plan_to_data(made.plan)}
    saved = save_plan(
        actor=work.student, work=work, data=data, base_version=0, change="Wrote the plan"
    )
    if submit:
        submit_plan(actor=work.student, work=work, base_version=saved.version)


def _bench(work: Work, made: SimulatedStudent, *, lock: bool, upto: int = 10_000) -> None:
    if waits_for_a_word(work):
        return
    record = start_bench(actor=work.student, work=work)
    write_record(record, work.student, made.readings, upto=upto)
    if not lock:
        return
    lock_readings(actor=work.student, record=record)
    submit_report(actor=work.student, work=work, explanation=EXPLANATION)


__all__ = ["PASSWORD", "build_demo", "demo_course"]
