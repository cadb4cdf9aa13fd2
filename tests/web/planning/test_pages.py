"""Every page of planning: who gets it, and with which methods."""

import pytest
from django.urls import reverse

from workups.models import PlanRevision
from workups.services.courses import set_archived

READ_PAGES = ["show-work", "build-plan", "show-plan-history", "print-plan"]
FORM_PAGES = ["fill-reagents", "submit-plan"]
POST_PAGES = ["restore-plan", "self-check"]
ALL = [(n, ()) for n in READ_PAGES + FORM_PAGES + POST_PAGES]
ALL += [("show-plan-version", (1,))]
READABLE = [(n, a) for n, a in ALL if n not in POST_PAGES]
WRITABLE = [(n, a) for n, a in ALL if n not in [*READ_PAGES, "show-plan-version"]]


def url_of(name, work, args=()):
    return reverse(name, args=[work.public_id, *args])


@pytest.mark.parametrize(("name", "args"), READABLE)
def test_a_student_gets_every_page_of_the_own_work(sign_in, student, planned_work, name, args):
    assert sign_in(student).get(url_of(name, planned_work, args)).status_code == 200


@pytest.mark.parametrize("name", [*READ_PAGES, *FORM_PAGES])
def test_every_page_says_what_comes_next_before_anything_is_begun(sign_in, student, work, name):
    assert sign_in(student).get(url_of(name, work)).status_code == 200


@pytest.mark.parametrize("who", ["outsider", "classmate"])
@pytest.mark.parametrize(("name", "args"), ALL)
def test_others_find_nothing(sign_in, planned_work, name, args, who, request):
    client = sign_in(request.getfixturevalue(who))
    url = url_of(name, planned_work, args)
    assert {client.get(url).status_code, client.post(url).status_code} <= {404, 405}


@pytest.mark.parametrize("who", ["ta", "instructor", "stockroom"])
@pytest.mark.parametrize(("name", "args"), READABLE)
def test_staff_have_pages_of_their_own(sign_in, planned_work, name, args, who, request):
    person = request.getfixturevalue(who)
    assert sign_in(person).get(url_of(name, planned_work, args)).status_code == 403


@pytest.mark.parametrize(("name", "args"), READABLE)
def test_a_signed_out_visitor_signs_in_first(leads_to_sign_in, planned_work, name, args):
    assert leads_to_sign_in(url_of(name, planned_work, args))


@pytest.mark.parametrize(("name", "args"), ALL)
def test_a_method_that_makes_no_sense_is_refused(sign_in, student, planned_work, name, args):
    client = sign_in(student)
    url = url_of(name, planned_work, args)
    assert client.delete(url).status_code == 405
    if name in POST_PAGES:
        assert client.get(url).status_code == 405


@pytest.mark.parametrize(("name", "args"), WRITABLE)
def test_an_archived_course_takes_no_changes(
    sign_in, student, planned_work, instructor, course, name, args
):
    set_archived(actor=instructor, course=course, archived=True)
    assert sign_in(student).post(url_of(name, planned_work, args)).status_code == 403
    assert PlanRevision.objects.count() == 1


def test_work_that_has_not_opened_is_refused(sign_in, student, planned_work, assignment, terms):
    assignment.opens_at = terms.plan_due
    assignment.plan_due = terms.report_due
    assignment.save()
    assert sign_in(student).get(url_of("show-work", planned_work)).status_code == 403


def test_my_work_lists_what_is_due_and_starts_missing_work(sign_in, student, assignment, course):
    page = sign_in(student).get(reverse("list-work", args=[course.public_id])).content.decode()
    assert "Too much vinegar" in page
    assert "Fill in the reagent table" in page


def test_my_work_is_a_page_for_students(sign_in, ta, outsider, course, leads_to_sign_in):
    url = reverse("list-work", args=[course.public_id])
    assert leads_to_sign_in(url)
    assert sign_in(ta).get(url).status_code == 403
    assert sign_in(outsider).get(url).status_code == 404
    assert sign_in(outsider).post(url).status_code == 405


def test_my_work_says_when_nothing_is_open(sign_in, student, course):
    page = sign_in(student).get(reverse("list-work", args=[course.public_id])).content.decode()
    assert "No exercise is open for you yet" in page
