"""Every page of a course: who gets it, with which methods, and what it does with bad input."""

import pytest
from django.urls import reverse

from workups.models import AuditEntry, Course, Role, Section
from workups.services.courses import set_archived

READ_PAGES = ["show-course"]
FORM_PAGES = ["edit-course", "add-section"]
POST_PAGES = ["archive-course", "reopen-course"]


def url_of(name, course):
    return reverse(name, args=[course.public_id])


@pytest.mark.parametrize("name", READ_PAGES + FORM_PAGES)
def test_an_instructor_gets_every_page(sign_in, instructor, course, name):
    assert sign_in(instructor).get(url_of(name, course)).status_code == 200


@pytest.mark.parametrize("name", READ_PAGES + FORM_PAGES + POST_PAGES)
def test_an_outsider_finds_nothing(sign_in, outsider, course, name):
    assert sign_in(outsider).post(url_of(name, course)).status_code in (404, 405)
    if name not in POST_PAGES:
        assert sign_in(outsider).get(url_of(name, course)).status_code == 404


@pytest.mark.parametrize("name", FORM_PAGES + POST_PAGES)
@pytest.mark.parametrize("who", ["ta", "student", "stockroom"])
def test_other_roles_are_refused(sign_in, course, name, who, request):
    person = request.getfixturevalue(who)
    assert sign_in(person).post(url_of(name, course)).status_code == 403


@pytest.mark.parametrize("name", READ_PAGES + FORM_PAGES)
def test_a_signed_out_visitor_signs_in_first(leads_to_sign_in, course, name):
    assert leads_to_sign_in(url_of(name, course))


@pytest.mark.parametrize("name", READ_PAGES + FORM_PAGES + POST_PAGES)
def test_a_method_that_makes_no_sense_is_refused(sign_in, instructor, course, name):
    assert sign_in(instructor).delete(url_of(name, course)).status_code == 405


@pytest.mark.parametrize("name", POST_PAGES)
def test_a_link_cannot_archive(sign_in, instructor, course, name):
    assert sign_in(instructor).get(url_of(name, course)).status_code == 405


def test_my_courses_lists_mine_alone(sign_in, student, course, outsider):
    page = sign_in(student).get("/").content.decode()
    assert "Organic Laboratory II" in page
    assert "Another course" not in page


def test_my_courses_say_what_comes_next_when_there_are_none(sign_in, student, enrolment_of):
    enrolment_of(student).delete()
    assert "Your instructor adds you" in sign_in(student).get("/").content.decode()


def test_my_courses_set_archived_ones_apart(sign_in, instructor, course):
    set_archived(actor=instructor, course=course, archived=True)
    assert "<h2>Archived</h2>" in sign_in(instructor).get("/").content.decode()


@pytest.mark.parametrize(("who", "page"), [
    ("student", "list-work"), ("ta", "show-course"), ("instructor", "show-course")])
def test_one_who_has_signed_in_is_where_the_only_course_is_worked_on(
    sign_in, course, who, page, request
):
    person = request.getfixturevalue(who)
    found = sign_in(person).get(reverse("show-first-page"))
    assert found.url == url_of(page, course)


def test_with_no_course_or_an_archived_one_the_first_page_is_the_list(
    sign_in, instructor, course, student, enrolment_of
):
    enrolment_of(student).delete()
    set_archived(actor=instructor, course=course, archived=True)
    for person in (instructor, student):
        assert sign_in(person).get(reverse("show-first-page")).url == reverse("list-courses")


def test_my_courses_need_sign_in_and_take_no_post(client, sign_in, leads_to_sign_in, student):
    assert leads_to_sign_in("/")
    assert sign_in(student).post("/").status_code == 405


@pytest.mark.parametrize(
    ("who", "seen", "unseen"),
    [
        ("instructor", ["Tuesday A", "Thursday B"], []),
        ("stockroom", ["Tuesday A", "Thursday B"], []),
        ("ta", ["Tuesday A"], ["Thursday B"]),
        ("student", ["Tuesday A", "Tariq Assistant"], ["Thursday B"]),
    ],
)
def test_the_overview_shows_the_sections_one_may_see(
    sign_in, course, section, other_section, ta, who, seen, unseen, request
):
    person = request.getfixturevalue(who)
    page = sign_in(person).get(url_of("show-course", course)).content.decode()
    assert all(text in page for text in seen)
    assert not any(text in page for text in unseen)


def test_the_overview_counts_current_students(sign_in, instructor, course, student):
    page = sign_in(instructor).get(url_of("show-course", course)).content.decode()
    assert '<td class="number" data-label="Students">1</td>' in page


def test_only_who_may_opens_a_course(sign_in, instructor):
    assert sign_in(instructor).get(reverse("open-course")).status_code == 403
    assert sign_in(instructor).post(reverse("open-course"), {"title": "x"}).status_code == 403


def test_a_course_is_opened_with_its_sections(sign_in, instructor):
    instructor.may_open_courses = True
    instructor.save()
    data = {"title": "Organic Laboratory I", "term": "Spring", "section_names": "A\n\n B  1 \n"}
    response = sign_in(instructor).post(reverse("open-course"), data)
    opened = Course.objects.get(title="Organic Laboratory I")
    assert response.url == url_of("show-course", opened)
    assert list(opened.sections.values_list("name", flat=True)) == ["A", "B 1"]
    assert opened.enrolments.get().role == Role.INSTRUCTOR


@pytest.mark.parametrize("wrong", [{"title": ""}, {"term": "x" * 101}, {"section_names": "A\nA"}])
def test_opening_a_course_with_bad_input_keeps_what_was_typed(sign_in, instructor, wrong):
    instructor.may_open_courses = True
    instructor.save()
    data = {"title": "Kept title", "term": "Kept term", "section_names": "Kept"} | wrong
    response = sign_in(instructor).post(reverse("open-course"), data)
    assert response.status_code == 200
    page = response.content.decode()
    assert "Not saved yet" in page
    assert "Kept" in page
    assert not Course.objects.filter(title="Kept title").exists()


def test_settings_are_saved_and_shown_on_the_overview(sign_in, instructor, course):
    data = {
        "title": "Organic Laboratory II",
        "term": "Autumn",
        "emergency_text": "Call 4444.",
        "safety_links": "Diethyl ether https://sds.example/ether\n",
    }
    client = sign_in(instructor)
    response = client.post(url_of("edit-course", course), data)
    assert response.url == url_of("show-course", course)
    page = client.get(response.url).content.decode()
    assert "Call 4444." in page
    assert '<a href="https://sds.example/ether"' in page
    assert AuditEntry.objects.get(action="edit-course").actor == instructor


@pytest.mark.parametrize(
    "links", ["nameonly", "Ether javascript:alert(1)", "Ether ftp://sds.example/", "Ether //x"]
)
def test_a_safety_link_that_is_none_is_named_with_its_line(sign_in, instructor, course, links):
    data = {"title": "T", "term": "T", "safety_links": f"Acetone https://sds.example/a\n{links}"}
    response = sign_in(instructor).post(url_of("edit-course", course), data)
    assert response.status_code == 200
    page = response.content.decode()
    assert "Line 2" in page
    assert links in page


def test_an_archived_course_can_be_opened_again_but_not_changed(sign_in, instructor, course):
    client = sign_in(instructor)
    assert client.post(url_of("archive-course", course)).status_code == 302
    assert client.post(url_of("edit-course", course), {"title": "x"}).status_code == 403
    assert client.get(url_of("edit-course", course)).status_code == 200
    assert client.get(url_of("add-section", course)).status_code == 403
    assert client.post(url_of("reopen-course", course)).status_code == 302
    course.refresh_from_db()
    assert not course.is_archived


def test_a_section_is_added_once(sign_in, instructor, course, section):
    client = sign_in(instructor)
    assert client.post(url_of("add-section", course), {"name": "Friday C"}).status_code == 302
    assert course.sections.filter(name="Friday C").exists()
    again = client.post(url_of("add-section", course), {"name": " Tuesday   A ", "meets": "noon"})
    assert "already has a section of that name" in again.content.decode()
    assert "noon" in again.content.decode()


def test_a_section_is_changed(sign_in, instructor, section, other_section):
    client = sign_in(instructor)
    url = reverse("edit-section", args=[section.public_id])
    assert client.get(url).status_code == 200
    assert client.post(url, {"name": "Tuesday A", "meets": "room 5"}).status_code == 302
    assert Section.objects.get(pk=section.pk).meets == "room 5"
    assert client.post(url, {"name": "Thursday B"}).status_code == 200


def test_changing_a_section_is_the_instructors(
    client, sign_in, leads_to_sign_in, section, ta, outsider, instructor
):
    url = reverse("edit-section", args=[section.public_id])
    assert leads_to_sign_in(url)
    assert sign_in(ta).get(url).status_code == 403
    assert sign_in(outsider).get(url).status_code == 404
    assert sign_in(instructor).put(url).status_code == 405
