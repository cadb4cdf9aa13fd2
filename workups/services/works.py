from django.db import transaction
from django.utils import timezone

from workups.models import Assignment, Enrolment, Role, Work
from workups.selectors.exercises import assignments_to_start
from workups.services.results import keep_results_out
from workups.services.variants import set_variant


@transaction.atomic
def start_work(*, assignment: Assignment, enrolment: Enrolment) -> Work:
    """The student's work on an assignment; made when it is not there yet."""
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
    """Works for the students of the section who have none yet; gives the new ones."""
    students = Enrolment.objects.filter(
        section=assignment.section, role=Role.STUDENT, left_at__isnull=True
    ).exclude(works__revision__key=assignment.revision.key)
    return [start_work(assignment=assignment, enrolment=student) for student in students]


@transaction.atomic
def start_works_of(*, enrolment: Enrolment) -> list[Work]:
    """The student's missing works on what was given to their section.

    Who came from another section keeps the work begun there.
    """
    missing = list(assignments_to_start(enrolment).select_related("revision"))
    for late in (a for a in missing if a.report_due > timezone.now()):
        keep_results_out(actor=None, revision=late.revision)
    return [start_work(assignment=assignment, enrolment=enrolment) for assignment in missing]
