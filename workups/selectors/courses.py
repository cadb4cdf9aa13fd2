from dataclasses import dataclass

from django.db.models import Count, F, Q, QuerySet

from workups.models import Course, Enrolment, Person, Role, Section


@dataclass(frozen=True)
class SectionLine:
    """One line of the course overview."""

    section: Section
    student_count: int
    ta_names: list[str]


def enrolments_of(person: Person) -> QuerySet[Enrolment]:
    """The person's current enrolments, newest course first, open courses before archived ones."""
    return (
        Enrolment.objects.filter(person=person, left_at__isnull=True)
        .select_related("course", "section")
        .order_by(
            F("course__archived_at").asc(nulls_first=True), "-course__created_at", "course__title"
        )
    )


def find_enrolment(person: Person, course: Course) -> Enrolment | None:
    return (
        Enrolment.objects.filter(person=person, course=course, left_at__isnull=True)
        .select_related("section")
        .first()
    )


def sections_seen_by(enrolment: Enrolment) -> QuerySet[Section]:
    """Instructor and stockroom see every section, a TA the assigned ones, a student their own."""
    sections = Section.objects.filter(course_id=enrolment.course_id)
    if enrolment.role == Role.TA:
        return sections.filter(ta_enrolments=enrolment)
    if enrolment.role == Role.STUDENT:
        return sections.filter(pk=enrolment.section.pk) if enrolment.section else sections.none()
    return sections


def section_lines(enrolment: Enrolment) -> list[SectionLine]:
    """The sections that this person sees, with who is in them."""
    current = Q(student_enrolments__left_at__isnull=True)
    sections = (
        sections_seen_by(enrolment)
        .annotate(student_count=Count("student_enrolments", filter=current, distinct=True))
        .order_by("name")
    )
    tas = Enrolment.objects.filter(
        course_id=enrolment.course_id, role=Role.TA, left_at__isnull=True
    ).select_related("person")
    names: dict[int, list[str]] = {}
    for ta in tas.prefetch_related("assigned_sections"):
        for section in ta.assigned_sections.all():
            names.setdefault(section.pk, []).append(ta.person.display_name)
    return [
        SectionLine(
            section=section,
            student_count=section.student_count,
            ta_names=names.get(section.pk, []),
        )
        for section in sections
    ]
