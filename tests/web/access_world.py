"""One of everything that an address can name, and one person of every role."""

from dataclasses import dataclass
from decimal import Decimal
from uuid import uuid4

from django.contrib.auth.tokens import default_token_generator
from django.utils import timezone

from tests.conftest import make_member
from tests.entries import enter
from workups.documents import library_text
from workups.documents.variants import Variant
from workups.models import (
    ComparedMark,
    ComparedReport,
    Course,
    MarkQuery,
    Person,
    PointAdjustment,
    ReadingKind,
    Remark,
    Review,
    RevisionMove,
    Role,
    Section,
    Work,
)
from workups.services.bench import join_bench
from workups.services.drafts import start_draft
from workups.services.entries import EntryOrigin, ReadingValues
from workups.services.planning import save_plan, submit_plan
from workups.services.reports import open_review
from workups.services.self_checks import self_check
from workups.services.variants import add_variant


@dataclass(frozen=True)
class World:
    """`people` by role, `arguments` by the name they have in an address."""

    people: dict[str, Person | None]
    arguments: dict[str, object]


def build_world(
    work: Work,
    partners_work: Work,
    other_section: Section,
    instructor: Person,
    ta: Person,
    stockroom: Person,
) -> World:
    """Around a work at the bench: its partner, its peers, the staff, and strangers."""
    course = work.revision.course
    partner, data = partners_work.student, work.plan_revisions.first().data
    save_plan(actor=partner, work=partners_work, data=data, base_version=0, change="Wrote it")
    submit_plan(actor=partner, work=partners_work, base_version=1)
    self_check(actor=work.student, work=work)
    join_bench(actor=partners_work.student, work=partners_work, record=work.bench_record)
    people = {
        "anonymous": None,
        **strangers(),
        "peer": make_member(
            course, "paul.peer", Role.STUDENT, section=work.assignment.section
        ),
        "partner": partners_work.student,
        "student": work.student,
        "other_ta": make_member(
            course, "olga.other", Role.TA, assigned_sections=[other_section]
        ),
        "ta": ta,
        "instructor": instructor,
        "stockroom": stockroom,
    }
    return World(people, {**ids_of(work), **reviewed_ids(work, ta), **own_ids(work, instructor)})


def strangers() -> dict[str, Person]:
    """An instructor and a student of another course."""
    elsewhere = Course.objects.create(title="Another course", term="Autumn")
    section = Section.objects.create(course=elsewhere, name="A")
    return {
        "outsider": make_member(elsewhere, "otto.outsider", Role.INSTRUCTOR),
        "elsewhere": make_member(elsewhere, "ella.elsewhere", Role.STUDENT, section=section),
    }


def ids_of(work: Work) -> dict[str, object]:
    assignment = work.assignment
    weigh(work)
    week = timezone.localtime(assignment.plan_due).isocalendar()
    return {
        "course_id": work.revision.course.public_id,
        "section_id": assignment.section.public_id,
        "enrolment_id": work.enrolment.public_id,
        "assignment_id": assignment.public_id,
        "revision_id": work.revision.public_id,
        "work_id": work.public_id,
        "step_id": "dry",
        "idea": "agent",
        "entry": "drying",
        "about": "dry",
        "year": week.year,
        "week": week.week,
        "version": 1,
        "attempt": 1,
        "code": "flask-not-tared",
        "part": "reaction",
    }


def weigh(work: Work):
    return enter(
        work.bench_record,
        EntryOrigin(by=work.student, client_token=uuid4()),
        ReadingValues(
            kind=ReadingKind.TARE,
            subject=work.revision.to_core().setup.targets[0].substance,
            value=Decimal("45.30"),
            decimals=2,
            unit="g",
            readability=Decimal("0.01"),
            on_pan=["flask"],
        ),
    )


def reviewed_ids(work: Work, ta: Person) -> dict[str, object]:
    """What a review has: an adjustment, a query, a remark kept for others."""
    review: Review = open_review(actor=None, work=work)
    adjustment = PointAdjustment.objects.create(
        review=review, check_name="order", delta=Decimal("-1"), reason="no label", by=ta
    )
    query = MarkQuery.objects.create(review=review, text="Why?", asked_by=work.student)
    compared = ComparedReport.objects.create(work=work, purpose="anchor", chosen_by=ta)
    # The TA has marked it, and so may see what others gave.
    ComparedMark.objects.create(report=compared, by=ta, points={"order": 20.0})
    remark = Remark.objects.create(course=work.revision.course, text="Label it.", kept_by=ta)
    return {
        "adjustment_id": adjustment.pk,
        "compared_id": compared.public_id,
        "query_id": query.public_id,
        "remark_id": remark.public_id,
    }


def moved(work: Work, instructor: Person) -> RevisionMove:
    """A move that stands in the records; the work itself is where it was."""
    return RevisionMove.objects.create(
        work=work, before=work.assignment, after=work.assignment, reason="x", by=instructor
    )


def own_ids(work: Work, instructor: Person) -> dict[str, object]:
    """An instructor's draft, and the password link of somebody who has not signed in yet."""
    draft = start_draft(
        actor=instructor,
        course=work.revision.course,
        document=library_text("too-much-vinegar"),
    )
    variant = add_variant(
        actor=instructor, revision=work.revision, title="Half", variant=Variant(scale=0.5)
    )
    invited = make_member(work.revision.course, "nina.new", Role.TA)
    return {
        "draft_id": draft.public_id,
        "variant_id": variant.public_id,
        "move_id": moved(work, instructor).public_id,
        "person_id": invited.public_id,
        "token": default_token_generator.make_token(invited),
    }
