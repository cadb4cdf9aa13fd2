"""What a roster would change. Reads the database, writes nothing."""

import hashlib
from dataclasses import dataclass, field, replace

from workups.models import Course, Enrolment, Person, Role, Section
from workups.models.courses import fold_name
from workups.selectors.courses import may_be_readdressed, may_be_renamed
from workups.services.roster.read import RosterError, RosterFile, RosterRow


@dataclass(frozen=True)
class RosterChange:
    """What one row does. `kind` is "new", "changed", "returns" or "same"."""

    row: RosterRow
    kind: str
    person: Person | None
    enrolment: Enrolment | None
    differences: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    sets_name: bool = False
    sets_email: bool = False


@dataclass(frozen=True)
class RosterComparison:
    """Everything that applying the roster would do."""

    changes: tuple[RosterChange, ...]
    new_sections: tuple[str, ...]
    leaving: tuple[Enrolment, ...]
    errors: tuple[RosterError, ...] = field(default=())

    @property
    def acting(self) -> tuple[RosterChange, ...]:
        return tuple(change for change in self.changes if change.kind != "same")

    @property
    def same_count(self) -> int:
        return len(self.changes) - len(self.acting)

    @property
    def changes_nothing(self) -> bool:
        return not (self.acting or self.new_sections or self.leaving)

    @property
    def digest(self) -> str:
        """Names this very set of changes, so that what is applied is what was shown."""
        parts = [
            f"{change.kind}|{change.row}|{change.differences}|{change.notes}"
            for change in self.changes
        ]
        parts += [f"section {name}" for name in self.new_sections]
        parts += [f"leaves {enrolment.public_id}" for enrolment in self.leaving]
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def compare_roster(
    *, course: Course, instructor: Person, roster: RosterFile, remove_missing: bool
) -> RosterComparison:
    """Lines that already hold change nothing, so the same roster can be applied again."""
    roster = with_known_sections(course, roster)
    people = {
        person.sign_in: person
        for person in Person.objects.filter(sign_in__in=[row.sign_in for row in roster.rows])
    }
    enrolments = {
        enrolment.person_id: enrolment
        for enrolment in Enrolment.objects.filter(course=course)
        .select_related("person", "section")
        .prefetch_related("assigned_sections")
    }
    changes = []
    for row in roster.rows:
        person = people.get(row.sign_in)
        enrolment = enrolments.get(person.pk) if person else None
        changes.append(compare_row(row, person, enrolment, course))
    own = find_own_line(roster, instructor)
    leaving: tuple[Enrolment, ...] = ()
    if remove_missing:
        present = {row.sign_in for row in roster.rows}
        leaving = tuple(
            enrolment
            for enrolment in enrolments.values()
            if enrolment.is_current
            and enrolment.role == Role.STUDENT
            and enrolment.person.sign_in not in present
        )
    return RosterComparison(
        changes=tuple(changes),
        new_sections=find_new_sections(course, roster),
        leaving=leaving,
        errors=roster.errors + own,
    )


def with_known_sections(course: Course, roster: RosterFile) -> RosterFile:
    """Sections named as the course names them, or as the roster does first: `mon a` is `Mon A`."""
    known = list(Section.objects.filter(course=course).values_list("name", flat=True))
    spelling = {fold_name(name): name for name in known} | {name: name for name in known}

    def named(name: str) -> str:
        return spelling.get(name) or spelling.setdefault(fold_name(name), name)

    rows = tuple(
        replace(row, section_names=tuple(dict.fromkeys(map(named, row.section_names))))
        for row in roster.rows
    )
    return replace(roster, rows=rows)


def find_own_line(roster: RosterFile, instructor: Person) -> tuple[RosterError, ...]:
    """An instructor cannot take the course out of their own hands."""
    message = "This is you. Your own role can only be changed by another instructor."
    return tuple(
        RosterError(row.line, "role", message)
        for row in roster.rows
        if row.sign_in == instructor.sign_in and row.role != Role.INSTRUCTOR
    )


def find_new_sections(course: Course, roster: RosterFile) -> tuple[str, ...]:
    known = set(Section.objects.filter(course=course).values_list("name", flat=True))
    names = dict.fromkeys(name for row in roster.rows for name in row.section_names)
    return tuple(name for name in names if name not in known)


def compare_row(
    row: RosterRow, person: Person | None, enrolment: Enrolment | None, course: Course
) -> RosterChange:
    if person is None:
        return RosterChange(row, "new", None, None, notes=("a new account",))
    sets_name = row.name != person.display_name and may_be_renamed(course, person)
    sets_email = differs_in_email(row, person) and may_be_readdressed(course, person)
    details = detail_differences(row, person, sets_name, sets_email)
    notes = kept_details(row, person, sets_name, sets_email)
    if enrolment is None:
        notes = ("has an account already", *notes)
        return RosterChange(row, "new", person, None, details, notes, sets_name, sets_email)
    differences = details + enrolment_differences(row, enrolment)
    if row.role == Role.STUDENT == enrolment.role and any(
        difference.startswith("section") for difference in differences
    ):
        notes = (*notes, "their work goes along, but for what has begun at the bench")
    kind = "changed" if differences else "same"
    if not enrolment.is_current:
        kind = "returns"
    return RosterChange(row, kind, person, enrolment, differences, notes, sets_name, sets_email)


def differs_in_email(row: RosterRow, person: Person) -> bool:
    return bool(row.email) and row.email != person.email


def detail_differences(
    row: RosterRow, person: Person, sets_name: bool, sets_email: bool
) -> tuple[str, ...]:
    differences = []
    if sets_name:
        differences.append(f"name: {person.display_name} → {row.name}")
    if sets_email:
        differences.append(f"e-mail: {person.email or 'none'} → {row.email}")
    return tuple(differences)


def kept_details(
    row: RosterRow, person: Person, sets_name: bool, sets_email: bool
) -> tuple[str, ...]:
    """What the roster says of a person otherwise than the person's own account, which stays."""
    kept = []
    if row.name != person.display_name and not sets_name:
        kept.append("name")
    if differs_in_email(row, person) and not sets_email:
        kept.append("e-mail")
    if not kept:
        return ()
    verb = "are kept as they are" if len(kept) > 1 else "is kept as it is"
    return (f"their own account: {' and '.join(kept)} {verb}",)


def enrolment_differences(row: RosterRow, enrolment: Enrolment) -> tuple[str, ...]:
    differences = []
    if row.role != enrolment.role:
        before, after = Role(enrolment.role).label, row.role.label
        differences.append(f"role: {before} → {after}")
    sections_before = section_names_of(enrolment)
    if set(sections_before) != set(row.section_names):
        before, after = "; ".join(sections_before), "; ".join(row.section_names)
        differences.append(f"section: {before or 'none'} → {after or 'none'}")
    if row.outside_id and row.outside_id != enrolment.outside_id:
        before = enrolment.outside_id or "none"
        differences.append(f"outside id: {before} → {row.outside_id}")
    return tuple(differences)


def section_names_of(enrolment: Enrolment) -> list[str]:
    if enrolment.section is not None:
        return [enrolment.section.name]
    return [section.name for section in enrolment.assigned_sections.all()]
