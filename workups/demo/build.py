"""Builds the demo course: last week's exercise marked, this week's under way, next week's open.

First the course with its people, sections and exercises, which is there within seconds; then what
the invented students do, one after the other. How far that is stands on the course's page, and what
was cut short goes on where it stopped.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from itertools import count
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
from workups.demo.records import can_be_entered, write_record
from workups.documents import library_exercise, library_text, plan_to_data
from workups.exercise.exercise import Exercise
from workups.invented_students import SimulatedStudent, planning_mistakes, simulate_student
from workups.models import (
    Assignment,
    Course,
    ExerciseRevision,
    Person,
    PlanRevision,
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
JUST_BEGUN = "The invented students have not begun yet: reload this page to see how far they are."
STILL_MADE = ("The invented students are at work: {done} of {of} things done. Reload this page to "
              "see how far they are.")
DAY = timedelta(days=1)
LAST_WEEK, AT_THE_BENCH, PLANNING = ("Monday", "Tuesday"), 10, 6
# Exercises, with the days until plan and report are due, and the sections that have them.
WEEKS: tuple[tuple[str, float, float, tuple[str, ...]], ...] = (
    ("plain-ether", 0.2, 0.5, LAST_WEEK),
    ("too-much-vinegar", 2.0, 6.0, ()),
    ("three-in-one-bottle", 9.0, 13.0, ()),
)
Say = Callable[[str], None]
MISTAKE_EVERY, NEXT_SEED = 2, 10_000
EXPLANATION = ("A little was lost in each transfer and on the drying agent; the flask was weighed "
               "until two readings agreed.")


@dataclass(frozen=True)
class Builder:
    """A course that is being built, by whom and when."""

    course: Course
    instructor: Person
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


def open_demo(per_section: int = PER_SECTION) -> Course:
    """The demo course before anybody has done anything. It must not exist yet."""
    everyone = students(per_section)
    people = _people(everyone)
    instructor = people[INSTRUCTOR.sign_in]
    course = open_course(
        actor=instructor, title=TITLE, term=TERM, section_names=[name for name, _ in SECTIONS]
    )
    course.emergency_text, course.filling = EMERGENCY, JUST_BEGUN
    course.save(update_fields=["emergency_text", "filling"])
    sections = {s.name: s for s in course.sections.all()}
    for name, meets in SECTIONS:
        edit_section(actor=instructor, section=sections[name], name=name, meets=meets)
    _enrol(course, everyone, people, sections)
    builder = Builder(course, instructor, timezone.now())
    for key, plan_due, report_due, names in WEEKS:
        revision = builder.publish(key)
        for name in names or sections:
            builder.give(revision, sections[name], plan_due, report_due)
    return course


def fill_demo(course: Course, say: Say) -> None:
    """Let the invented students do their work; what is done already stays as it is.

    Each service keeps what it computes by itself, in a moment: the course is served meanwhile, and
    on SQLite whoever signs in waits for whoever writes. One whose work is cut short leaves it so.
    """
    tasks = _tasks(course)
    for done, task in enumerate(tasks):
        if done == 0 or task.what != tasks[done - 1].what:
            say(task.what)
        course.filling = STILL_MADE.format(done=done, of=len(tasks))
        course.save(update_fields=["filling"])
        task.do()
    course.filling = ""
    course.save(update_fields=["filling"])


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


@dataclass(frozen=True)
class Task:
    """Something that somebody does, and what it belongs to in words."""

    what: str
    do: Callable[[], None]


def _tasks(course: Course) -> list[Task]:
    """Everything that is done in the course, in order.

    Of the plain ether Monday is marked and released, Tuesday's reports wait for review; with too
    much vinegar Wednesday is at the bench and the others plan.
    """
    tasks: list[Task] = []
    numbers = count()
    for name in LAST_WEEK:
        what = f"{name}: plans, readings and reports of last week"
        assignment = _assignment(course, "plain-ether", name)
        tasks += [
            Task(what, partial(_hand_in, work, seed=100 * len(name) + n, number=next(numbers)))
            for n, work in enumerate(_works(assignment))]
        if name == "Monday":
            tasks.append(Task("Monday: reports reviewed and released",
                              partial(_marked, assignment)))
    for name, work_on in (("Wednesday", _at_the_bench), ("Thursday", _planning)):
        works = _works(_assignment(course, "too-much-vinegar", name))
        tasks += [Task(f"{name}: this week's exercise", partial(work_on, work, number=n))
                  for n, work in enumerate(works)]
    return tasks


def _assignment(course: Course, key: str, section: str) -> Assignment:
    return Assignment.objects.get(
        revision__course=course, revision__key=key, section__name=section)


def _hand_in(work: Work, *, seed: int, number: int) -> None:
    """Plan, readings and report of last week."""
    if not _has_begun(work):
        made = drawn_student(work.to_core(), seed=seed, number=number)
        _plan(work, made, number)
        _bench(work, made, lock=True)


def _marked(assignment: Assignment) -> None:
    """The first TA has accepted every report of a section and released it."""
    ta = Person.objects.get(sign_in=TAS[0].sign_in)
    reviewed = [work for work in _works(assignment)
                if work.is_assessed and Review.objects.filter(work=work).exists()]
    if Review.objects.filter(work__in=reviewed, state=Review.State.RELEASED).exists():
        return
    for work in reviewed:
        accept_report(actor=ta, work=work)
    release_section(actor=ta, assignment=assignment)


def _at_the_bench(work: Work, *, number: int) -> None:
    if _has_begun(work):
        return
    made = drawn_student(work.to_core(), seed=500 + number, number=number)
    _plan(work, made, number)
    if number < AT_THE_BENCH and not waits_for_a_word(work):
        _bench(work, made, lock=False, upto=3 + number)


def _planning(work: Work, *, number: int) -> None:
    if number < PLANNING and not _has_begun(work):
        made = drawn_student(work.to_core(), seed=900 + number, number=number)
        _plan(work, made, number, submit=number % 2 == 0)


def _has_begun(work: Work) -> bool:
    return PlanRevision.objects.filter(work=work).exists()


def _works(assignment: Assignment) -> list[Work]:
    return list(
        assignment.works.select_related("enrolment__person").order_by("enrolment__person__sign_in")
    )


def drawn_student(exercise: Exercise, *, seed: int, number: int) -> SimulatedStudent:
    """Every second student makes a mistake in planning, one after the other through both sections
    of last week, so that each of them occurs; slips come at the stated priors. One whose numbers
    the bench would refuse is drawn anew."""
    mistakes = planning_mistakes(exercise)
    plan = None
    if number % MISTAKE_EVERY == MISTAKE_EVERY - 1 and mistakes:
        keys = sorted(mistakes)
        plan = mistakes[keys[(number // MISTAKE_EVERY) % len(keys)]]
    drawn = (simulate_student(exercise, seed + NEXT_SEED * n, plan=plan) for n in count())
    return next(made for made in drawn if can_be_entered(made.readings))


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


__all__ = ["PASSWORD", "demo_course", "fill_demo", "open_demo"]
