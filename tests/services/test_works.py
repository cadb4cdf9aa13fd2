"""Whose work there is, and when it is due."""

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests.conftest import make_member
from workups.documents import library_text
from workups.grading.reagent_table import LineAnswers
from workups.models import Assignment, Role, Work
from workups.selectors.exercises import exercise_lines
from workups.selectors.works import dates_of, works_of
from workups.services.exercises import (
    assign_revision,
    change_terms,
    give_extension,
    publish_revision,
)
from workups.services.reagents import ReagentTableIsClosed, save_reagent_table
from workups.services.review import open_results
from workups.services.works import start_works_of


def test_assigning_starts_the_work_of_everybody_in_the_section(student, classmate, assignment):
    works = Work.objects.filter(assignment=assignment)
    assert {work.student for work in works} == {student, classmate}
    assert len({work.bench_code for work in works}) == 2


def test_who_joins_later_gets_the_work_too(assignment, course, section, enrolment_of):
    late = make_member(course, "lena.late", Role.STUDENT, section=section)
    (work,) = start_works_of(enrolment=enrolment_of(late))
    assert work.assignment == assignment
    assert start_works_of(enrolment=enrolment_of(late)) == []


def test_who_joins_later_sees_what_their_section_has_before_the_work_is_made(
    assignment, course, section, enrolment_of
):
    """The course page said that no exercise was published, until My work was opened once."""
    late = enrolment_of(make_member(course, "lena.late", Role.STUDENT, section=section))
    listed = [given.assignment for line in exercise_lines(late) for given in line.assignments]
    assert listed == [assignment]
    start_works_of(enrolment=late)
    assert [g.assignment for e in exercise_lines(late) for g in e.assignments] == listed


def test_who_changes_section_sees_the_work_begun_on_the_course_page(
    work, assignment, other_section, student, enrolment_of
):
    enrolment = enrolment_of(student)
    enrolment.section = other_section
    enrolment.save()
    listed = [given.assignment for line in exercise_lines(enrolment) for given in line.assignments]
    assert listed == [assignment]


def test_who_changes_section_keeps_the_work_begun(
    work, revision, other_section, instructor, terms, student, enrolment_of
):
    assign_revision(actor=instructor, revision=revision, section=other_section, terms=terms)
    enrolment = enrolment_of(student)
    enrolment.section = other_section
    enrolment.save()
    assert start_works_of(enrolment=enrolment) == []
    assert list(works_of(student)) == [work]


def test_what_has_not_opened_is_not_on_the_list(work, student, assignment):
    assignment.opens_at = timezone.now() + timedelta(hours=1)
    assignment.save()
    assert list(works_of(student)) == []


def test_an_extension_moves_only_the_date_it_gives(work, assignment, instructor):
    later = timezone.now() + timedelta(days=30)
    give_extension(
        actor=instructor,
        assignment=assignment,
        enrolment=work.enrolment,
        reason="illness",
        report_due=later,
    )
    dates = dates_of(work)
    assert dates.report_due == later
    assert dates.plan_due == assignment.plan_due
    assert dates.is_extended


def test_an_extension_never_ends_before_the_dates_of_the_section(
    work, assignment, instructor, terms
):
    """Given first, then the whole section gets more time than the extension gave."""
    give_extension(
        actor=instructor,
        assignment=assignment,
        enrolment=work.enrolment,
        reason="illness",
        report_due=terms.report_due + timedelta(days=1),
    )
    assignment.report_due = terms.report_due + timedelta(days=7)
    assignment.save()
    assert dates_of(work).report_due == assignment.report_due


def test_new_dates_do_not_close_results_that_were_opened_meanwhile(
    assignment, instructor, terms
):
    fetched_before = Assignment.objects.get(pk=assignment.pk)
    open_results(actor=instructor, assignment=assignment, reason="Cancelled elsewhere.")
    change_terms(actor=instructor, assignment=fetched_before, terms=terms)
    assignment.refresh_from_db()
    assert assignment.results_opened_at is not None


def test_dates_go_in_order(assignment, instructor, terms):
    from dataclasses import replace

    with pytest.raises(ValidationError, match="in this order"):
        change_terms(
            actor=instructor,
            assignment=assignment,
            terms=replace(terms, plan_due=terms.report_due + timedelta(days=1)),
        )


def test_reagent_answers_are_kept_as_typed_until_the_bench(bench_work, work):
    with pytest.raises(ReagentTableIsClosed):
        save_reagent_table(work=bench_work, answers={"1_hexanol": LineAnswers("102")})


def test_reagent_answers_count_the_attempts_of_each_line(work):
    for typed in ("102", "102", "102.18"):
        save_reagent_table(work=work, answers={"1_hexanol": LineAnswers(typed)})
    entry = work.reagent_entries.get(substance="1_hexanol")
    assert (entry.molar_mass, entry.attempts, entry.correct) == ("102.18", 2, None)


def test_a_line_of_a_given_amount_keeps_whether_it_is_limiting(
    course, section, instructor, student, terms, enrolment_of
):
    revision = publish_revision(
        actor=instructor, course=course, key="catch-it", title="Catch it",
        document=library_text("catch-it"),
    )
    assign_revision(actor=instructor, revision=revision, section=section, terms=terms)
    work = enrolment_of(student).works.get()
    answers = {"sodium_hypochlorite": LineAnswers(limiting=True), "water": LineAnswers()}
    save_reagent_table(work=work, answers=answers)
    assert work.reagent_entries.get(limiting=True).substance == "sodium_hypochlorite"
    assert not work.reagent_entries.filter(substance="water").exists()
