"""From rows to enrolments: idempotent, all or nothing, and nobody's account is taken over."""

import pytest

from workups.models import AuditEntry, Enrolment, Person, Role
from workups.services.courses import enrol_person
from workups.services.roster.apply import RosterHasErrors, RosterMovedOn, apply_roster
from workups.services.roster.compare import compare_roster
from workups.services.roster.read import read_roster

HEADING = "name,sign_in,email,role,section,outside_id\n"


@pytest.fixture
def bring(course, instructor):
    """Compare and apply a roster's lines; gives the comparison that was applied."""

    def apply(lines, *, remove_missing=False):
        roster = read_roster(HEADING + lines)
        shown = compare_roster(
            course=course, instructor=instructor, roster=roster, remove_missing=remove_missing
        )
        return apply_roster(
            course=course,
            actor=instructor,
            roster=roster,
            remove_missing=remove_missing,
            expected_digest=shown.digest,
        )

    return apply


def enrolment(sign_in):
    return Enrolment.objects.get(person__sign_in=sign_in)


def test_a_roster_makes_accounts_sections_and_roles(bring, course):
    bring("李 雷,lilei,l@x.example,,A,7\nZoë,zoe,,TA,A;B,\nSam,sam,,stockroom,,\n")
    assert list(course.sections.values_list("name", flat=True)) == ["A", "B"]
    assert enrolment("lilei").section.name == "A"
    assert enrolment("lilei").outside_id == "7"
    assert [s.name for s in enrolment("zoe").assigned_sections.all()] == ["A", "B"]
    assert enrolment("sam").role == Role.STOCKROOM
    assert not Person.objects.get(sign_in="lilei").has_set_password()


def test_the_same_roster_twice_changes_nothing(bring):
    lines = "李 雷,lilei,l@X.example,,A,7\nZoë,zoe,,TA,A;B,\n"
    bring(lines)
    before = list(Enrolment.objects.values()), AuditEntry.objects.count()
    assert bring(lines).changes_nothing
    assert (list(Enrolment.objects.values()), AuditEntry.objects.count()) == before


def test_moves_and_corrections_are_told_and_done(bring):
    bring("Ines Vale,ines,i@x.example,,A,7\n")
    comparison = bring("Ines Okonjo-Vale,ines,,,B,\n")
    (change,) = comparison.acting
    assert change.differences == ("name: Ines Vale → Ines Okonjo-Vale", "section: A → B")
    moved = enrolment("ines")
    assert moved.section.name == "B"
    assert moved.person.display_name == "Ines Okonjo-Vale"
    assert (moved.person.email, moved.outside_id) == ("i@x.example", "7"), "empty fields keep"


def test_a_student_becomes_a_ta_and_back(bring):
    bring("Ines,ines,,,A,\n")
    bring("Ines,ines,,TA,A;B,\n")
    assert enrolment("ines").section is None
    bring("Ines,ines,,student,B,\n")
    assert enrolment("ines").section.name == "B"
    assert not enrolment("ines").assigned_sections.exists()


def test_students_not_in_the_roster_leave_only_when_told(bring, student, ta):
    bring("Ines,ines,,,A,\n")
    assert enrolment("stina.student").is_current
    comparison = bring("Ines,ines,,,A,\n", remove_missing=True)
    assert [e.person for e in comparison.leaving] == [student]
    assert not enrolment("stina.student").is_current
    assert enrolment("tariq.assistant").is_current, "TAs do not leave by omission"


def test_who_left_comes_back_with_the_next_roster(bring, student):
    bring("Ines,ines,,,A,\n", remove_missing=True)
    comparison = bring("Stina Student,stina.student,,,Tuesday A,\n")
    assert [change.kind for change in comparison.acting] == ["returns"]
    assert enrolment("stina.student").is_current


def test_an_account_of_another_course_joins_but_keeps_its_name_and_email(bring, outsider):
    comparison = bring("Impostor,otto.outsider,thief@x.example,student,A,\n")
    assert "kept as they are" in " ".join(comparison.acting[0].notes)
    outsider.refresh_from_db()
    assert outsider.display_name == "Otto Outsider"
    assert outsider.email == "otto.outsider@larkmoor.example"


def test_a_tas_own_account_keeps_its_email_once_a_password_is_set(bring, ta):
    bring("Tariq Assistant,tariq.assistant,thief@x.example,TA,Tuesday A,\n")
    ta.refresh_from_db()
    assert ta.email == "tariq.assistant@larkmoor.example"


def test_a_wrong_email_is_mended_while_no_password_is_set(bring):
    bring("Zoë,zoe,wrong@x.example,TA,A,\n")
    bring("Zoë,zoe,right@x.example,TA,A,\n")
    assert enrolment("zoe").person.email == "right@x.example"


def test_a_student_shared_with_another_course_keeps_name_and_email(bring, student, outsider):
    other_course = outsider.enrolments.get().course
    section = other_course.sections.create(name="Z")
    enrol_person(course=other_course, person=student, role=Role.STUDENT, section=section)
    bring("Somebody Else,stina.student,thief@x.example,,Tuesday A,\n")
    student.refresh_from_db()
    assert student.display_name == "Stina Student"


def test_instructors_cannot_demote_themselves(course, instructor):
    roster = read_roster(HEADING + "Iris Instructor,iris.instructor,,student,A,\n")
    comparison = compare_roster(
        course=course, instructor=instructor, roster=roster, remove_missing=False
    )
    assert [(e.line, e.column) for e in comparison.errors] == [(2, "role")]
    with pytest.raises(RosterHasErrors):
        apply_roster(
            course=course,
            actor=instructor,
            roster=roster,
            remove_missing=False,
            expected_digest=comparison.digest,
        )


def test_one_bad_line_keeps_the_good_ones_out(course, instructor):
    roster = read_roster(HEADING + "Ines,ines,,,A,\nBad,,,,A,\n")
    with pytest.raises(RosterHasErrors):
        apply_roster(
            course=course,
            actor=instructor,
            roster=roster,
            remove_missing=False,
            expected_digest="",
        )
    assert not Person.objects.filter(sign_in="ines").exists()


def test_only_what_was_shown_is_applied(course, instructor):
    roster = read_roster(HEADING + "Ines,ines,,,A,\n")
    with pytest.raises(RosterMovedOn) as moved:
        apply_roster(
            course=course,
            actor=instructor,
            roster=roster,
            remove_missing=False,
            expected_digest="another",
        )
    assert moved.value.comparison.new_sections == ("A",)
    assert not course.sections.exists()


def test_the_log_keeps_who_changed_what(bring, instructor):
    bring("Ines,ines,,,A,\n")
    entry = AuditEntry.objects.get(action="apply-roster")
    assert entry.actor == instructor
    assert entry.details["people"] == [
        {"sign_in": "ines", "kind": "new", "role": "student", "differences": []}
    ]


def test_a_section_in_another_spelling_is_the_same_section(bring, course):
    course.sections.create(name="Pre\u0301s B")  # e and an accent, as some programs write it
    bring(
        "Ines,ines,,,Mon A,\nBob,bob,,,mon a,\n"
        "Cai,cai,,,PR\u00c9S B,\nTom,tom,,TA,MON A;Mon A,\n"
    )
    assert sorted(course.sections.values_list("name", flat=True)) == ["Mon A", "Pre\u0301s B"]
    assert enrolment("bob").section == enrolment("ines").section
    assert enrolment("tom").assigned_sections.count() == 1
    assert bring("Bob,bob,,,MON A,\n").changes_nothing


def test_an_account_made_while_the_roster_is_applied_is_shown_first(
    course, instructor, monkeypatch
):
    """Another course's roster makes it between the comparison and the writing."""
    roster = read_roster(HEADING + "Zed,zed,,,A,\nInes,ines,,,A,\n")
    terms = {"course": course, "roster": roster, "remove_missing": False}
    shown = compare_roster(instructor=instructor, **terms)

    def compare_too_early(**given):
        monkeypatch.undo()
        early = compare_roster(**given)
        Person.objects.create_user("ines")
        return early

    monkeypatch.setattr("workups.services.roster.apply.compare_roster", compare_too_early)
    with pytest.raises(RosterMovedOn):
        apply_roster(actor=instructor, expected_digest=shown.digest, **terms)
    assert not Enrolment.objects.filter(person__sign_in__in=["zed", "ines"]).exists()
