"""A small course at each stage of its work. Rows are fetched anew by whoever acts, as pages do."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from uuid import uuid4

from django.db.models import Model

from tests.conftest import make_member
from tests.web.review.reports import TARGET, hand_in_plan, hand_in_report, weigh
from workups.documents import plan_to_data
from workups.documents.variants import Variant
from workups.models import (
    Assignment,
    BenchRecord,
    Course,
    Enrolment,
    ExerciseDraft,
    ExerciseRevision,
    ExerciseVariant,
    Person,
    PointAdjustment,
    Reading,
    ReadingKind,
    RevisionMove,
    Role,
    Section,
    ShareRequest,
    Work,
)
from workups.selectors.marks import marks_of
from workups.selectors.works import works_with_everything
from workups.services.bench import ask_to_share, join_bench, start_bench
from workups.services.drafts import save_draft, start_draft
from workups.services.entries import (
    EntryOrigin,
    NewEntry,
    ReadingValues,
    Said,
    StepMark,
    record_entries,
)
from workups.services.exercises import AssignmentTerms, assign_revision, publish_revision
from workups.services.moving import move_students
from workups.services.planning import save_plan
from workups.services.reports import lock_readings, query_mark, submit_report
from workups.services.review import NewPoints, accept_report, adjust_points, release_section
from workups.services.variants import add_variant

RUBRIC = "\norder = 25\n"
ADJUSTED = "order"


@dataclass
class World:
    """Who is there, by name; everything else is looked up."""

    course: Course
    section: Section
    other_section: Section
    instructor: Person
    ta: Person
    revision: ExerciseRevision
    terms: AssignmentTerms

    def person(self, name: str) -> Person:
        return Person.objects.get(sign_in=name)

    @property
    def student(self) -> Person:
        return self.person("stina.student")

    @property
    def classmate(self) -> Person:
        return self.person("sven.student")

    def enrolment(self, name: str = "stina.student") -> Enrolment:
        return Enrolment.objects.select_related("person", "course", "section").get(
            course=self.course, person__sign_in=name
        )

    def work(self, name: str = "stina.student") -> Work:
        return works_with_everything().get(
            enrolment__person__sign_in=name, enrolment__course=self.course
        )

    @property
    def assignment(self) -> Assignment:
        """What the section had first, as a page has it at hand."""
        return Assignment.objects.select_related("revision__course", "section").get(
            section=self.section, revision=self.revision
        )

    @property
    def newer(self) -> ExerciseRevision:
        return ExerciseRevision.objects.get(course=self.course, number=2)

    @property
    def half(self) -> ExerciseVariant:
        return ExerciseVariant.objects.get(revision=self.revision, title="Half")

    @property
    def draft(self) -> ExerciseDraft:
        return ExerciseDraft.objects.get(course=self.course, closed_at=None, base=self.newer)

    @property
    def record(self) -> BenchRecord:
        record = self.work().bench_record
        assert record is not None
        return record

    @property
    def reading(self) -> Reading:
        return Reading.objects.select_related("record").filter(record=self.record).latest("pk")

    @property
    def adjustment(self) -> PointAdjustment:
        found = PointAdjustment.objects.filter(review__work=self.work(), superseded_by=None)
        return found.earliest("pk")

    @property
    def asked(self) -> ShareRequest:
        return ShareRequest.objects.get(granted=None, record__isnull=False)

    @property
    def move(self) -> RevisionMove:
        return RevisionMove.objects.get(work=self.work())

    def entry(self, *said: Said) -> NewEntry:
        return NewEntry(EntryOrigin(by=self.student, client_token=uuid4()), said)

    def say(self, *said: Said) -> list[Model]:
        """What the student enters at the bench; gives the rows made."""
        made = record_entries(record=self.record, entries=[self.entry(*said)])
        return [row for recorded in made for row in recorded.rows]


def tare(mass: str = "45.40") -> ReadingValues:
    return ReadingValues(
        kind=ReadingKind.TARE,
        subject=TARGET,
        value=Decimal(mass),
        decimals=2,
        unit="g",
        readability=Decimal("0.01"),
        on_pan=["flask"],
    )


def first_step(w: World) -> StepMark:
    step = w.record.plan_revision.data["steps"][0]
    return StepMark(step_id=step["id"], mark="done", data=step)


def begun(w: World) -> None:
    """Works that nobody has opened yet; a newer revision is published and given to nobody."""
    for section in (w.section, w.other_section):
        assign_revision(actor=w.instructor, revision=w.revision, section=section, terms=w.terms)
    add_variant(
        actor=w.instructor, revision=w.revision, title="Half", variant=Variant(scale=0.5)
    )
    publish_revision(
        actor=w.instructor,
        course=w.course,
        key=w.revision.key,
        title=w.revision.title,
        document=w.revision.document.replace(RUBRIC, "\norder = 30\n"),
    )


def planned(w: World) -> None:
    """The student's plan is written and not handed in."""
    begun(w)
    data = {"steps": plan_to_data(w.revision.to_core().model_plan)}
    save_plan(actor=w.student, work=w.work(), data=data, base_version=0, change="Wrote")


def handed_in(w: World) -> None:
    """Two plans are handed in, and the classmate is at the bench."""
    begun(w)
    hand_in_plan(w.work())
    hand_in_plan(w.work("sven.student"))
    start_bench(actor=w.classmate, work=w.work("sven.student"))


def at_the_bench(w: World) -> None:
    """A record shared by two, a third who asks to share it, a step and readings in it."""
    begun(w)
    hand_in_plan(w.work())
    start_bench(actor=w.student, work=w.work())
    join_bench(actor=w.classmate, work=w.work("sven.student"), record=w.record)
    w.say(first_step(w))
    weigh(w.work(), w.student, ("45.30", "51.62", "51.62"))
    Assignment.objects.update(group_size=3)
    ask_to_share(
        actor=w.person("tove.student"), work=w.work("tove.student"), code=w.work().bench_code
    )


def reported(w: World) -> None:
    """A report that waits for its TA, with points changed by hand."""
    begun(w)
    hand_in_report(w.work())
    adjust_points(actor=w.ta, work=w.work(), change=other_points(w, "1"))


def other_points(w: World, less: str) -> NewPoints:
    marks = marks_of(w.work())
    assert marks is not None
    mark = next(m for m in marks.checks if m.check.name == ADJUSTED)
    now = Decimal(str(mark.points)).quantize(Decimal("0.01"))
    return NewPoints(ADJUSTED, now - Decimal(less), "unclear", seen=now)


def accepted(w: World) -> None:
    reported(w)
    accept_report(actor=w.ta, work=w.work())


def shared(w: World) -> None:
    """The accepted reports of two who share a record."""
    begun(w)
    works = w.work(), w.work("sven.student")
    for work in works:
        hand_in_plan(work)
    start_bench(actor=w.student, work=works[0])
    join_bench(actor=w.classmate, work=works[1], record=w.record)
    weigh(w.work(), w.student, ("45.30", "51.62", "51.62"))
    lock_readings(actor=w.student, record=w.record)
    for who in (w.student, w.classmate):
        work = w.work(who.sign_in)
        submit_report(actor=who, work=work, explanation="Fine.")
        accept_report(actor=w.ta, work=work)


def moved(w: World) -> None:
    """Accepted, and moved to the newer revision since."""
    accepted(w)
    move_students(
        actor=w.instructor,
        assignment=w.assignment,
        revision=w.newer,
        works=[w.work()],
        reason="a slip in the rubric",
    )


def released(w: World) -> None:
    accepted(w)
    release_section(actor=w.ta, assignment=w.assignment)
    query_mark(actor=w.student, work=w.work(), check_name=ADJUSTED, text="Why?")


def writing(w: World) -> None:
    """A draft of a newer revision, saved once before, and a section that works on the older."""
    begun(w)
    document = w.newer.document
    draft = start_draft(
        actor=w.instructor, course=w.course, document=document, base=w.newer
    )
    save_draft(
        actor=w.instructor,
        draft=draft,
        document=document.replace("order = 30", "order = 28"),
        base_version=1,
    )


STAGES: dict[str, Callable[[World], None]] = {
    stage.__name__: stage
    for stage in (
        begun, planned, handed_in, at_the_bench, reported, accepted, shared, moved, released,
        writing,
    )
}  # fmt: skip


def set_up(
    course: Course,
    section: Section,
    other_section: Section,
    instructor: Person,
    ta: Person,
    revision: ExerciseRevision,
    terms: AssignmentTerms,
) -> World:
    """Three students of one section, and a second section."""
    for name in ("stina.student", "sven.student", "tove.student"):
        make_member(course, name, Role.STUDENT, section=section)
    return World(course, section, other_section, instructor, ta, revision, terms)


def weeks_later(terms: AssignmentTerms, weeks: int) -> AssignmentTerms:
    later = timedelta(weeks=weeks)
    return AssignmentTerms(
        opens_at=terms.opens_at,
        plan_due=terms.plan_due + later,
        report_due=terms.report_due + later,
        group_size=terms.group_size,
    )
