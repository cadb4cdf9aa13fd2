"""Who goes to another section takes along what has not begun at the bench (`services/works.py`)."""

from datetime import timedelta

import pytest
from django.utils import timezone

from workups.models import AuditEntry, Extension, Role, Work
from workups.selectors.plans import submitted_plan
from workups.selectors.works import dates_of
from workups.services.bench import start_bench
from workups.services.courses import enrol_person
from workups.services.door import admit_work
from workups.services.exercises import assign_revision, give_extension, publish_revision
from workups.services.moving import MovedOn, move_students, take_back_move
from workups.services.works import start_works_of
from workups.web.access import get_work_to_review

pytestmark = pytest.mark.django_db


@pytest.fixture
def thursday(revision, other_section, instructor, terms):
    """The same exercise given to the other section, a week later."""
    later = timedelta(weeks=1)
    terms = type(terms)(
        opens_at=terms.opens_at,
        plan_due=terms.plan_due + later,
        report_due=terms.report_due + later,
        group_size=2,
    )
    return assign_revision(
        actor=instructor, revision=revision, section=other_section, terms=terms
    )


@pytest.fixture
def switch(course, student, other_section, section):
    def to(target):
        return enrol_person(course=course, person=student, role=Role.STUDENT, section=target)

    return to


def now(work):
    return Work.objects.select_related("assignment").get(pk=work.pk)


def test_a_work_that_nobody_opened_is_on_the_new_door_with_its_dates(
    work, thursday, other_section, switch
):
    switch(other_section)
    assert now(work).assignment == thursday
    assert dates_of(now(work)).report_due == thursday.report_due
    assert AuditEntry.objects.filter(action="follow-section").count() == 1


def test_a_plan_handed_in_goes_along_and_is_admitted_anew(
    submitted_work, thursday, other_section, switch, ta
):
    admit_work(actor=ta, work=submitted_work)
    plan = submitted_plan(submitted_work)
    switch(other_section)
    moved = now(submitted_work)
    assert (moved.assignment, moved.admitted_at) == (thursday, None)
    assert (submitted_plan(moved), moved.is_assessed) == (plan, True)


def test_who_is_at_the_bench_finishes_where_they_began(
    bench_work, thursday, other_section, switch, assignment
):
    switch(other_section)
    assert now(bench_work).assignment == assignment


def test_begun_on_another_revision_keeps_it_with_the_new_dates(
    planned_work, revision, other_section, switch, instructor, terms
):
    newer = publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title=revision.title,
        document=revision.document,
    )
    given = assign_revision(
        actor=instructor, revision=newer, section=other_section, terms=terms
    )
    switch(other_section)
    moved = now(planned_work)
    assert (moved.revision, moved.assignment.revision) == (revision, revision)
    assert (moved.assignment.section, moved.assignment.plan_due) == (other_section, given.plan_due)
    assert start_works_of(enrolment=moved.enrolment) == []


def test_an_extension_goes_along(work, assignment, thursday, other_section, switch, instructor):
    later = timezone.now() + timedelta(days=40)
    give_extension(
        actor=instructor,
        assignment=assignment,
        enrolment=work.enrolment,
        reason="ill",
        report_due=later,
    )
    switch(other_section)
    assert dates_of(now(work)).report_due == later
    assert Extension.objects.get().assignment == thursday


def test_what_the_new_section_does_not_have_comes_when_it_gets_it(
    planned_work, assignment, other_section, switch, instructor, revision, terms
):
    switch(other_section)
    assert now(planned_work).assignment == assignment
    given = assign_revision(
        actor=instructor, revision=revision, section=other_section, terms=terms
    )
    assert now(planned_work).assignment == given


def test_there_and_back_again_leaves_it_as_it_was(
    planned_work, assignment, thursday, section, other_section, switch
):
    for target in (other_section, section):
        switch(target)
    assert now(planned_work).assignment == assignment


def test_the_new_sections_ta_sees_it_and_the_old_one_no_more(
    planned_work, thursday, other_section, switch, ta, course
):
    from django.core.exceptions import PermissionDenied

    switch(other_section)
    with pytest.raises(PermissionDenied):
        get_work_to_review(ta, planned_work.public_id)
    enrol_person(course=course, person=ta, role=Role.TA, assigned_sections=[other_section])
    assert get_work_to_review(ta, planned_work.public_id)[1] == planned_work


def test_a_move_is_not_taken_back_over_a_switch(
    submitted_work, revision, assignment, thursday, other_section, switch, instructor
):
    newer = publish_revision(
        actor=instructor,
        course=revision.course,
        key=revision.key,
        title=revision.title,
        document=revision.document,
    )
    (move,) = move_students(
        actor=instructor,
        assignment=assignment,
        revision=newer,
        works=[submitted_work],
        reason="a slip",
    )
    switch(other_section)
    with pytest.raises(MovedOn):
        take_back_move(actor=instructor, move=move)


def test_the_bench_begins_after_the_switch(
    submitted_work, thursday, other_section, switch, student
):
    switch(other_section)
    assert start_bench(actor=student, work=now(submitted_work)).works.get() == submitted_work
