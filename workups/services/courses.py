from dataclasses import asdict

from django.db import transaction
from django.utils import timezone

from workups.models import Course, Enrolment, Person, Role, SafetyLink, Section
from workups.services.audit import record_audit
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.results import keep_results_out
from workups.services.works import take_works_along


class CourseIsOpen(Refused):
    """The instructor has a course of this title and term already."""

    def __init__(self, course: Course) -> None:
        super().__init__()
        self.course = course


class LastInstructor(Refused):
    """The change would leave the course without an instructor."""


@transaction.atomic
def open_course(*, actor: Person, title: str, term: str, section_names: list[str]) -> Course:
    """A new course with `actor` as its instructor. Raises CourseIsOpen."""
    require_new(actor, title, term)
    course = Course(title=title, term=term)
    course.full_clean()
    course.save()
    enrol_person(course=course, person=actor, role=Role.INSTRUCTOR)
    for name in section_names:
        add_section(actor=actor, course=course, name=name, meets="")
    record_audit(actor=actor, action="open-course", subject=course, course=course)
    return course


def require_new(actor: Person, title: str, term: str) -> None:
    """Title and term tell courses apart; whoever clicks twice opens one. Raises CourseIsOpen."""
    hold(actor)
    known = Course.objects.filter(
        title=title,
        term=term,
        archived_at__isnull=True,
        enrolments__in=actor.enrolments.filter(role=Role.INSTRUCTOR, left_at__isnull=True),
    ).first()
    if known is not None:
        raise CourseIsOpen(known)


@transaction.atomic
def edit_course(
    *,
    actor: Person,
    course: Course,
    title: str,
    term: str,
    emergency_text: str,
    safety_links: list[SafetyLink],
    anonymous_marking: bool,
) -> Course:
    course.title = title
    course.term = term
    course.emergency_text = emergency_text
    course.sds_links = [asdict(link) for link in safety_links]
    course.anonymous_marking = anonymous_marking
    course.full_clean()
    course.save(update_fields=["title", "term", "emergency_text", "sds_links", "anonymous_marking"])
    record_audit(
        actor=actor,
        action="edit-course",
        subject=course,
        course=course,
        details={"anonymous_marking": anonymous_marking},
    )
    return course


@transaction.atomic
def set_archived(*, actor: Person, course: Course, archived: bool) -> Course:
    if course.is_archived == archived:
        return course
    course.archived_at = timezone.now() if archived else None
    course.save(update_fields=["archived_at"])
    action = "archive-course" if archived else "reopen-course"
    record_audit(actor=actor, action=action, subject=course, course=course)
    return course


@transaction.atomic
def add_section(*, actor: Person | None, course: Course, name: str, meets: str) -> Section:
    section = Section(course=course, name=name, meets=meets)
    section.full_clean()
    section.save()
    record_audit(actor=actor, action="add-section", subject=section, course=course)
    return section


@transaction.atomic
def edit_section(*, actor: Person, section: Section, name: str, meets: str) -> Section:
    before = {"name": section.name, "meets": section.meets}
    if before == {"name": name, "meets": meets}:
        return section
    section.name = name
    section.meets = meets
    section.full_clean()
    section.save()
    record_audit(
        actor=actor,
        action="edit-section",
        subject=section,
        course=section.course,
        details={"before": before},
    )
    return section


@transaction.atomic
def enrol_person(
    *,
    course: Course,
    person: Person,
    role: Role,
    section: Section | None = None,
    assigned_sections: list[Section] | None = None,
    outside_id: str = "",
) -> Enrolment:
    """Give a person a role in a course, or change the one they have."""
    enrolment = Enrolment.objects.filter(course=course, person=person).first()
    if enrolment is None:
        enrolment = Enrolment(course=course, person=person)
    else:
        hold(course)
        hold_all([each for each in (enrolment.section, section) if each is not None])
        hold(enrolment)
        hold_all(enrolment.works.all())
    if enrolment.role == Role.INSTRUCTOR and role != Role.INSTRUCTOR:
        require_another_instructor(enrolment)
    if enrolment.left_at is not None:
        for work in enrolment.works.select_related("revision"):
            keep_results_out(actor=None, revision=work.revision)
    enrolment.role = role
    enrolment.was_staff = enrolment.was_staff or role != Role.STUDENT
    enrolment.section = section if role == Role.STUDENT else None
    enrolment.outside_id = outside_id
    enrolment.left_at = None
    enrolment.full_clean()
    enrolment.save()
    sections = assigned_sections or [] if role == Role.TA else []
    enrolment.assigned_sections.set(sections)
    if enrolment.section is not None:
        take_works_along(enrolment=enrolment)
    return enrolment


@transaction.atomic
def end_enrolment(*, actor: Person, enrolment: Enrolment) -> Enrolment:
    """The person has left the course: their work stays, their access ends."""
    if enrolment.role == Role.INSTRUCTOR:
        require_another_instructor(enrolment)
    hold(enrolment)
    if enrolment.left_at is not None:
        return enrolment
    enrolment.left_at = timezone.now()
    enrolment.save(update_fields=["left_at"])
    record_audit(actor=actor, action="end-enrolment", subject=enrolment, course=enrolment.course)
    return enrolment


def require_another_instructor(enrolment: Enrolment) -> None:
    # Of two who leave at the same moment, one is the last.
    hold(enrolment.course)
    others = Enrolment.objects.filter(
        course=enrolment.course, role=Role.INSTRUCTOR, left_at__isnull=True
    ).exclude(pk=enrolment.pk)
    if not others.exists():
        raise LastInstructor
