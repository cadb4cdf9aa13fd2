from collections.abc import Callable
from functools import partial

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from workups.models import Course, Enrolment, Person, Section, Work
from workups.services.audit import record_audit
from workups.services.courses import add_section, end_enrolment, enrol_person
from workups.services.holding import hold, hold_all
from workups.services.refusals import Refused
from workups.services.roster.compare import RosterChange, RosterComparison, compare_roster
from workups.services.roster.read import RosterFile


class RosterHasErrors(Refused):
    """A roster with errors in it is not applied, not even its good lines."""


class RosterMovedOn(Refused):
    """The course has changed since the preview was shown; the new comparison is attached."""

    def __init__(self, comparison: RosterComparison) -> None:
        super().__init__()
        self.comparison = comparison


def apply_roster(
    *, course: Course, actor: Person, roster: RosterFile, remove_missing: bool, expected_digest: str
) -> RosterComparison:
    """Do what the preview named `expected_digest` showed, all of it or nothing."""
    compared = partial(
        compare_roster,
        course=course,
        instructor=actor,
        roster=roster,
        remove_missing=remove_missing,
    )
    try:
        return _apply(actor, course, compared, expected_digest)
    except (IntegrityError, ValidationError) as problem:
        # Somebody made an account of that name since the comparison, for another course perhaps.
        raise RosterMovedOn(compared()) from problem


@transaction.atomic
def _apply(
    actor: Person, course: Course, compared: Callable[[], RosterComparison], expected_digest: str
) -> RosterComparison:
    # One roster of a course after the other.
    hold(course)
    hold_all(course.sections.all())
    comparison = compared()
    if comparison.errors:
        raise RosterHasErrors
    if comparison.digest != expected_digest:
        raise RosterMovedOn(comparison)
    for name in comparison.new_sections:
        add_section(actor=actor, course=course, name=name, meets="")
    _hold_people(comparison)
    sections = {section.name: section for section in Section.objects.filter(course=course)}
    for change in comparison.acting:
        apply_change(course, change, sections)
    for enrolment in comparison.leaving:
        end_enrolment(actor=actor, enrolment=enrolment)
    if not comparison.changes_nothing:
        record_audit(
            actor=actor,
            action="apply-roster",
            subject=course,
            course=course,
            details=describe(comparison),
        )
    return comparison


def _hold_people(comparison: RosterComparison) -> None:
    """All at once, in their order, and not row by row as a roster happens to have them."""
    acting = comparison.acting
    hold_all([change.person for change in acting if change.person is not None])
    enrolments = [change.enrolment for change in acting if change.enrolment is not None]
    hold_all([*enrolments, *comparison.leaving])
    hold_all(Work.objects.filter(enrolment__in=enrolments))


def apply_change(course: Course, change: RosterChange, sections: dict[str, Section]) -> Enrolment:
    row = change.row
    person = change.person
    if person is None:
        person = Person.objects.create_user(row.sign_in, display_name=row.name, email=row.email)
    elif change.sets_name or change.sets_email:
        person.display_name = row.name if change.sets_name else person.display_name
        person.email = row.email if change.sets_email else person.email
        person.full_clean()
        person.save(update_fields=["display_name", "email"])
    named = [sections[name] for name in row.section_names]
    kept_id = change.enrolment.outside_id if change.enrolment else ""
    return enrol_person(
        course=course,
        person=person,
        role=row.role,
        section=named[0] if named else None,
        assigned_sections=named,
        outside_id=row.outside_id or kept_id,
    )


def describe(comparison: RosterComparison) -> dict[str, object]:
    """For the audit log: which accounts, and what about them."""
    return {
        "new_sections": list(comparison.new_sections),
        "left": [enrolment.person.sign_in for enrolment in comparison.leaving],
        "people": [
            {
                "sign_in": change.row.sign_in,
                "kind": change.kind,
                "role": change.row.role.value,
                "differences": list(change.differences),
            }
            for change in comparison.acting
        ],
    }
