"""The one place that decides who sees what."""

import uuid

import pytest
from django.core.exceptions import PermissionDenied
from django.http import Http404

from workups.services.courses import set_archived
from workups.web.access import (
    INSTRUCTOR,
    TEACHING,
    get_course_for,
    get_enrolment_for,
    get_section_for,
)


def test_a_member_gets_the_course_and_the_role(course, ta):
    access = get_course_for(ta, course.public_id)
    assert access.course == course
    assert access.person == ta
    assert access.is_ta
    assert access.is_teaching
    assert not access.is_instructor


def test_an_outsider_learns_nothing(course, outsider):
    with pytest.raises(Http404):
        get_course_for(outsider, course.public_id)
    with pytest.raises(Http404):
        get_course_for(outsider, uuid.uuid4())


def test_a_member_of_another_role_is_refused(course, student):
    with pytest.raises(PermissionDenied):
        get_course_for(student, course.public_id, TEACHING)


def test_who_has_left_is_an_outsider(course, student, instructor, enrolment_of):
    enrolment = enrolment_of(student)
    enrolment.left_at = enrolment.course.created_at
    enrolment.save()
    with pytest.raises(Http404):
        get_course_for(student, course.public_id)


def test_an_archived_course_is_read_but_not_changed(course, instructor):
    set_archived(actor=instructor, course=course, archived=True)
    assert get_course_for(instructor, course.public_id, INSTRUCTOR).is_instructor
    with pytest.raises(PermissionDenied):
        get_course_for(instructor, course.public_id, INSTRUCTOR, to_change=True)


def test_a_ta_sees_assigned_sections_only(ta, section, other_section):
    assert get_section_for(ta, section.public_id)[1] == section
    with pytest.raises(PermissionDenied):
        get_section_for(ta, other_section.public_id)


def test_a_student_sees_their_own_section_only(student, section, other_section):
    assert get_section_for(student, section.public_id)[1] == section
    with pytest.raises(PermissionDenied):
        get_section_for(student, other_section.public_id)


def test_instructor_and_stockroom_see_every_section(instructor, stockroom, other_section):
    assert get_section_for(instructor, other_section.public_id)[1] == other_section
    assert get_section_for(stockroom, other_section.public_id)[1] == other_section


def test_a_section_that_does_not_exist_and_one_of_another_course(outsider, section):
    with pytest.raises(Http404):
        get_section_for(outsider, section.public_id)
    with pytest.raises(Http404):
        get_section_for(outsider, uuid.uuid4())


def test_a_ta_sees_the_students_of_assigned_sections(
    ta, student, instructor, enrolment_of, other_section
):
    enrolment = enrolment_of(student)
    assert get_enrolment_for(ta, enrolment.public_id)[1] == enrolment
    enrolment.section = other_section
    enrolment.save()
    with pytest.raises(PermissionDenied):
        get_enrolment_for(ta, enrolment.public_id)
    with pytest.raises(PermissionDenied):
        get_enrolment_for(ta, enrolment_of(instructor).public_id)


def test_an_enrolment_of_another_course_is_not_there(outsider, student, enrolment_of):
    with pytest.raises(Http404):
        get_enrolment_for(outsider, enrolment_of(student).public_id)
    with pytest.raises(Http404):
        get_enrolment_for(outsider, uuid.uuid4())
