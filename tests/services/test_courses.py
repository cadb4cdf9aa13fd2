import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from workups.models import Course, Enrolment, Role
from workups.services.courses import (
    LastInstructor,
    add_section,
    edit_course,
    end_enrolment,
    enrol_person,
    open_course,
    set_archived,
)


def test_opening_a_course_makes_its_instructor_and_sections(outsider):
    course = open_course(actor=outsider, title="T", term="Spring", section_names=["A", "B"])
    assert course.enrolments.get().person == outsider
    assert course.sections.count() == 2


def test_a_course_that_cannot_be_opened_leaves_nothing(outsider):
    with pytest.raises(ValidationError):
        open_course(actor=outsider, title="T", term="Spring", section_names=["A", "A"])
    assert not Enrolment.objects.filter(course__title="T").exists()


def test_a_section_name_is_given_once_in_a_course(course, section, instructor):
    with pytest.raises(ValidationError, match="already has a section"):
        add_section(actor=instructor, course=course, name="Tuesday A", meets="")


def test_a_student_needs_a_section_of_the_same_course(course, outsider):
    with pytest.raises(ValidationError, match="belongs to a section"):
        enrol_person(course=course, person=outsider, role=Role.STUDENT)
    elsewhere = outsider.enrolments.get().course.sections.create(name="Z")
    with pytest.raises(ValidationError, match="another course"):
        enrol_person(course=course, person=outsider, role=Role.STUDENT, section=elsewhere)


def test_the_database_itself_keeps_sections_to_students(course, section, ta, enrolment_of):
    with pytest.raises(IntegrityError), transaction.atomic():
        Enrolment.objects.filter(pk=enrolment_of(ta).pk).update(section=section)


def test_the_last_instructor_neither_leaves_nor_becomes_a_ta(
    course, instructor, outsider, enrolment_of
):
    with pytest.raises(LastInstructor):
        end_enrolment(actor=instructor, enrolment=enrolment_of(instructor))
    with pytest.raises(LastInstructor):
        enrol_person(course=course, person=instructor, role=Role.TA)
    enrol_person(course=course, person=outsider, role=Role.INSTRUCTOR)
    end_enrolment(actor=instructor, enrolment=enrolment_of(instructor))
    assert not enrolment_of(instructor).is_current


def test_one_person_has_one_role_in_a_course(course, section, student):
    enrol_person(course=course, person=student, role=Role.TA, assigned_sections=[section])
    assert course.enrolments.filter(person=student).count() == 1


def test_two_who_change_different_things_of_a_course_both_keep_theirs(course, instructor):
    """Each request fetched the course before the other one wrote."""
    one, other = Course.objects.get(pk=course.pk), Course.objects.get(pk=course.pk)
    edited = {"term": "Spring", "emergency_text": "", "safety_links": []}
    set_archived(actor=instructor, course=one, archived=True)
    edit_course(
        actor=instructor, course=other, title="New title", anonymous_marking=True, **edited
    )
    course.refresh_from_db()
    assert course.is_archived
    set_archived(actor=instructor, course=one, archived=False)
    course.refresh_from_db()
    assert (course.title, course.anonymous_marking) == ("New title", True)
