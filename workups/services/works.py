"""Which works a student has, and under which assignment of their section.

Who goes to another section: a work that has no bench record goes along, and the new section's door,
dates and TA hold for it. One that was begun keeps its exercise as it is, plan, form and extension
with it, and is admitted anew; one that was not takes what the new section has. Whoever is at the
bench, or through with it, finishes where they began: the partners, the TA who was there and the
dates are that section's. A work also stays where the new section does not have the exercise, until
it gets it.
"""

from collections.abc import Iterable

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from workups.models import Assignment, Enrolment, Extension, Role, Section, Work
from workups.selectors.exercises import assignments_to_start
from workups.services.audit import record_audit
from workups.services.holding import hold, hold_all
from workups.services.results import keep_results_out
from workups.services.variants import counterpart, has_begun, set_variant


def hold_students(section: Section, works: Iterable[Work] = ()) -> None:
    """A section, its students and the works they would bring along, before any work is made or
    moved there; and these works."""
    hold(section)
    hold_all(_students_of(section))
    known = {work.pk for work in works}
    brought = _open_elsewhere(section).filter(enrolment__section=section).exclude(pk__in=known)
    hold_all([*works, *brought])


def _students_of(section: Section) -> QuerySet[Enrolment]:
    return Enrolment.objects.filter(
        section=section, role=Role.STUDENT, left_at__isnull=True
    ).order_by("pk")


def _open_elsewhere(section: Section) -> QuerySet[Work]:
    return Work.objects.filter(bench_record__isnull=True).exclude(assignment__section=section)


@transaction.atomic
def start_work(*, assignment: Assignment, enrolment: Enrolment) -> Work:
    """The student's work on an assignment; made when it is not there yet."""
    hold(enrolment)
    existing = Work.objects.filter(assignment=assignment, enrolment=enrolment).first()
    if existing is not None:
        return existing
    work = Work(assignment=assignment, enrolment=enrolment, revision=assignment.revision)
    set_variant(work, assignment.variant)
    work.full_clean()
    work.save()
    return work


@transaction.atomic
def start_missing_works(*, assignment: Assignment) -> list[Work]:
    """Works for the students of the section who have none yet; gives the new ones.

    Who came from another section brings theirs along.
    """
    key = assignment.revision.key
    students = _students_of(assignment.section)
    for newcomer in students.filter(works__revision__key=key).exclude(
        works__assignment__section=assignment.section
    ):
        take_works_along(enrolment=newcomer)
    return [
        start_work(assignment=assignment, enrolment=student)
        for student in students.exclude(works__revision__key=key)
    ]


def start_works_of(*, enrolment: Enrolment) -> list[Work]:
    """The student's missing works on what was given to their section.

    Who came from another section keeps the work begun there.
    """
    return _start_works_of(enrolment) if _missing(enrolment) else []


@transaction.atomic
def _start_works_of(enrolment: Enrolment) -> list[Work]:
    if enrolment.section is not None:
        hold(enrolment.section)
    hold(enrolment)
    missing = _missing(enrolment)
    for late in missing:
        if late.report_due > timezone.now():
            keep_results_out(actor=None, revision=late.revision)
    return [start_work(assignment=assignment, enrolment=enrolment) for assignment in missing]


def _missing(enrolment: Enrolment) -> list[Assignment]:
    """What the section has and the student has nothing of, the newest revision of each."""
    found = assignments_to_start(enrolment)
    newest = found.select_related("revision").order_by("revision__number")
    return list({assignment.revision.key: assignment for assignment in newest}.values())


@transaction.atomic
def take_works_along(*, enrolment: Enrolment) -> list[Work]:
    """Put a student's works under what their section has; gives those that moved."""
    section = enrolment.section
    assert section is not None
    hold(section)
    moved = []
    for work in hold_all(_open_elsewhere(section).filter(enrolment=enrolment)):
        given = (
            Assignment.objects.filter(section=section, revision__key=work.revision.key)
            .select_related("revision", "section")
            .order_by("-revision__number")
            .first()
        )
        if given is None or work.bench_record_id is not None:
            continue
        _move_begun(work, given) if has_begun(work) else move_work(work, given)
        record_audit(
            actor=None,
            action="follow-section",
            subject=work,
            course=enrolment.course,
            details={"to": section.name},
        )
        moved.append(work)
    return moved


def _move_begun(work: Work, given: Assignment) -> None:
    """To the section's assignment of the work's own revision, made with the same terms if need be;
    another revision is only given by whoever sees what it changes."""
    target = Assignment.objects.filter(section=given.section, revision=work.revision).first()
    if target is None:
        target = Assignment.objects.get(pk=given.pk)
        target.pk, target.public_id = None, Assignment._meta.get_field("public_id").get_default()
        target.revision, target.variant = work.revision, counterpart(given.variant, work.revision)
        target._state.adding = True
        target.full_clean()
        target.save()
    _put_under(work, target)
    work.admitted_at = work.admitted_by = None
    work.save(update_fields=["assignment", "admitted_at", "admitted_by"])


def move_work(work: Work, assignment: Assignment) -> None:
    """Put a work under another assignment, its extension and form of the exercise with it."""
    _put_under(work, assignment)
    variant = counterpart(work.variant, assignment.revision) or assignment.variant
    work.revision = assignment.revision
    set_variant(work, variant)
    work.full_clean()
    work.save(update_fields=["assignment", "revision", "variant", "own_exercise"])


def _put_under(work: Work, assignment: Assignment) -> None:
    """With the extension; the caller saves the work. Results that are out stay out."""
    if assignment.report_due > work.assignment.report_due:
        keep_results_out(actor=None, revision=work.revision)
    Extension.objects.filter(
        assignment_id=work.assignment_id, enrolment_id=work.enrolment_id
    ).update(assignment=assignment)
    work.assignment = assignment
