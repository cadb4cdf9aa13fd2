from dataclasses import dataclass

from axes.models import AccessAttempt
from django.conf import settings
from django.db.models import Count, F, Q, QuerySet, Sum
from django.utils import timezone

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
    """The sections that this person sees, in the week's order, with who is in them."""
    current = Q(student_enrolments__left_at__isnull=True)
    sections = (
        sections_seen_by(enrolment)
        .annotate(student_count=Count("student_enrolments", filter=current, distinct=True))
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
            section=section, student_count=section.student_count, ta_names=names.get(section.pk, [])
        )
        for section in sorted(sections, key=lambda section: section.place_in_week)
    ]


def roster_of(
    course: Course, *, words: str = "", section: Section | None = None, role: str = ""
) -> QuerySet[Enrolment]:
    """Everybody in the course, those who left at the end.

    `words` are looked for in names, sign-in names and outside identifiers.
    """
    enrolments = (
        Enrolment.objects.filter(course=course)
        .select_related("person", "section")
        .prefetch_related("assigned_sections")
        .order_by(
            F("left_at").asc(nulls_first=True),
            "role",
            "section__name",
            "person__display_name",
            "person__sign_in",
        )
    )
    for word in words.split():
        enrolments = enrolments.filter(
            Q(person__display_name__icontains=word)
            | Q(person__sign_in__icontains=word)
            | Q(outside_id__icontains=word)
        )
    if section is not None:
        enrolments = enrolments.filter(Q(section=section) | Q(assigned_sections=section))
    if role:
        enrolments = enrolments.filter(role=role)
    return enrolments.distinct()


def people_to_invite(course: Course) -> list[Person]:
    """Those with an e-mail who have never set a password."""
    people = Person.objects.filter(
        enrolments__course=course, enrolments__left_at__isnull=True, is_active=True
    ).exclude(email="")
    return [person for person in people if not person.has_set_password()]


def may_be_invited(instructor: Person, person: Person) -> bool:
    """Whether an instructor may hand over the link that sets this person's first password.

    No role in a course gives power over a sign-in that is in use: only for somebody who has never
    set a password, and who is in no course that is not the instructor's own.
    """
    if person.may_open_courses or not person.is_active or person.has_set_password():
        return False
    own_courses = Enrolment.objects.filter(
        person=instructor, role=Role.INSTRUCTOR, left_at__isnull=True
    ).values("course")
    return not Enrolment.objects.filter(person=person).exclude(course__in=own_courses).exists()


def may_be_signed_out(instructor: Person, person: Person) -> bool:
    """Whether an instructor may end this person's sessions, for a device that was lost, and let
    them sign in again where wrong passwords are stopped.

    Only for who is, and in every course always was, a student of the instructor's own.
    """
    if person.may_open_courses or not person.is_active:
        return False
    own_courses = Enrolment.objects.filter(
        person=instructor, role=Role.INSTRUCTOR, left_at__isnull=True
    ).values("course")
    enrolments = Enrolment.objects.filter(person=person)
    others = enrolments.exclude(course__in=own_courses) | enrolments.filter(was_staff=True)
    return enrolments.exists() and not others.exists()


def wrong_passwords_of(person: Person) -> QuerySet[AccessAttempt]:
    """Failures at sign-in under this person's name, from any address and browser; those of a known
    browser are counted under the name and a word after it."""
    name = person.sign_in
    attempts: QuerySet[AccessAttempt] = AccessAttempt.objects.all()
    return attempts.filter(Q(username=name) | Q(username__startswith=f"{name} "))


def is_stopped_at_sign_in(person: Person) -> bool:
    """Whether some place may not try this name for a while, for wrong passwords."""
    since = timezone.now() - settings.AXES_COOLOFF_TIME
    counted = wrong_passwords_of(person).filter(attempt_time__gte=since).order_by()
    by_place = counted.values("username", "ip_address").annotate(n=Sum("failures_since_start"))
    return bool(by_place.filter(n__gte=settings.AXES_FAILURE_LIMIT).exists())


def may_be_renamed(course: Course, person: Person) -> bool:
    """Whether this course's roster sets the person's name: somebody of this course alone, who has
    never set a password or was never more than a student."""
    if person.may_open_courses or Enrolment.objects.filter(person=person).exclude(
        course=course
    ).exists():
        return False
    was_staff = Enrolment.objects.filter(person=person, was_staff=True).exists()
    return not person.has_set_password() or not was_staff


def may_be_readdressed(course: Course, person: Person) -> bool:
    """Whether this course's roster sets the person's e-mail, which a forgotten password is mailed
    to: only before the first password is set."""
    return not person.has_set_password() and may_be_renamed(course, person)
