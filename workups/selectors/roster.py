from django.db.models import F, Q, QuerySet

from workups.models import Course, Enrolment, Person, Role, Section


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


def is_managed_by(instructor: Person, person: Person) -> bool:
    """Whether an instructor's roster sets this person's name and e-mail, and their first password.

    Whoever sets the e-mail can take the account over. So every course that the person is in must
    be the instructor's own, and the person must be only a student there or never have set a
    password yet.
    """
    if person.may_open_courses or not person.is_active:
        return False
    own_courses = Enrolment.objects.filter(
        person=instructor, role=Role.INSTRUCTOR, left_at__isnull=True
    ).values("course")
    enrolments = Enrolment.objects.filter(person=person)
    if enrolments.exclude(course__in=own_courses).exists():
        return False
    if not person.has_set_password():
        return True
    return enrolments.exists() and not enrolments.exclude(role=Role.STUDENT).exists()
