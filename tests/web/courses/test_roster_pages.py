import re
from importlib import import_module
from smtplib import SMTPException

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.mail.backends.base import BaseEmailBackend
from django.test import Client
from django.urls import reverse

from tests.conftest import make_member
from workups.models import AuditEntry, Course, Enrolment, Person, Role
from workups.services.courses import enrol_person, set_archived

find_staff = import_module("workups.migrations.0023_find_what_people_were").find_staff
ROSTER = "name,sign_in,email,role,section\n李 雷,lilei,lilei@larkmoor.example,,Tuesday A\n"
COURSE_PAGES = ["show-roster", "upload-roster", "invite-people"]
PERSON_PAGES = [
    "show-enrolment", "make-password-link", "sign-out-everywhere", "lift-sign-in-stop",
    "remove-person",
]  # fmt: skip
POST_ONLY = {
    "invite-people", "make-password-link", "sign-out-everywhere", "lift-sign-in-stop",
    "remove-person",
}  # fmt: skip


def url_of(name, thing):
    return reverse(name, args=[thing.public_id])


@pytest.fixture
def target(course, student, enrolment_of):
    """The object that a page's address names."""
    return lambda name: course if name in COURSE_PAGES else enrolment_of(student)


@pytest.mark.parametrize("name", COURSE_PAGES + PERSON_PAGES)
def test_the_roster_is_the_instructors(
    client, sign_in, leads_to_sign_in, instructor, ta, outsider, target, name
):
    url = url_of(name, target(name))
    method = "post" if name in POST_ONLY else "get"
    assert leads_to_sign_in(url, method)
    assert getattr(sign_in(outsider), method)(url).status_code == 404
    assert getattr(sign_in(ta), method)(url).status_code == 403
    assert sign_in(instructor).delete(url).status_code == 405
    if name in POST_ONLY:
        assert sign_in(instructor).get(url).status_code == 405
    else:
        assert sign_in(instructor).get(url).status_code == 200


def test_the_roster_is_searched_by_words_section_and_role(
    sign_in, course, instructor, ta, student, section
):
    client = sign_in(instructor)

    def names(**query):
        page = client.get(url_of("show-roster", course), query).content.decode()
        return set(re.findall(r'<th scope="row"><a [^>]*>([^<]+)</a>', page))

    assert names() == {"Iris Instructor", "Tariq Assistant", "Stina Student"}
    assert names(words="STUDENT stina") == {"Stina Student"}
    assert names(section=section.public_id) == {"Tariq Assistant", "Stina Student"}
    assert names(role="ta") == {"Tariq Assistant"}
    assert names(words="nobody at all") == set()


def test_a_search_that_makes_no_sense_is_shown_with_its_error(sign_in, course, instructor):
    response = sign_in(instructor).get(
        url_of("show-roster", course), {"role": "king", "section": "x"}
    )
    assert response.status_code == 200
    assert response.content.decode().count("errorlist") == 2


def test_a_live_search_gets_the_table_alone(sign_in, course, instructor):
    page = sign_in(instructor).get(url_of("show-roster", course), headers={"HX-Request": "true"})
    assert page.content.decode().startswith('<div id="roster-table"')


def preview(client, course, text=ROSTER, **data):
    return client.post(url_of("upload-roster", course), {"roster_text": text} | data)


def digest_in(response):
    return re.search(r'name="digest" value="(\w+)"', response.content.decode()).group(1)


def test_a_preview_changes_nothing_and_applying_does_what_it_showed(
    sign_in, course, section, instructor
):
    client = sign_in(instructor)
    shown = preview(client, course)
    assert "joins the course" in shown.content.decode()
    assert not Person.objects.filter(sign_in="lilei").exists()
    response = preview(client, course, digest=digest_in(shown))
    assert response.url == url_of("show-roster", course)
    assert Enrolment.objects.get(person__sign_in="lilei").section == section


def test_the_same_roster_again_changes_nothing(sign_in, course, section, instructor):
    client = sign_in(instructor)
    preview(client, course, digest=digest_in(preview(client, course)))
    entries = AuditEntry.objects.count()
    assert "Nothing: all 1 people" in preview(client, course).content.decode()
    assert AuditEntry.objects.count() == entries


def test_a_file_is_taken_and_its_text_comes_back_to_be_mended(sign_in, course, section, instructor):
    text = ROSTER + "X,y y,,,Tuesday A\n"
    file = SimpleUploadedFile("roster.csv", b"\xef\xbb\xbf" + text.encode())
    response = sign_in(instructor).post(url_of("upload-roster", course), {"roster_file": file})
    page = response.content.decode()
    assert "1 mistake in the roster" in page
    assert "李 雷,lilei" in page
    assert "Apply these changes" not in page


def test_errors_are_never_applied_even_when_asked(sign_in, course, section, instructor):
    response = preview(sign_in(instructor), course, ROSTER + "X,,,,A\n", digest="0" * 64)
    assert response.status_code == 200
    assert not Person.objects.filter(sign_in="lilei").exists()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        ({}, "Choose a file or paste"),
        ({"roster_text": "who,what\n1,2\n"}, "does not name the column name and sign_in"),
        ({"roster_file": SimpleUploadedFile("r.csv", b"name,sign_in\nJos\xe9,jose\n")}, "Line 2"),
        ({"roster_file": SimpleUploadedFile("r.csv", b"x" * 1_000_001)}, "larger than 1000 kB"),
    ],
)
def test_a_roster_that_cannot_be_read_says_why(sign_in, course, instructor, data, message):
    response = sign_in(instructor).post(url_of("upload-roster", course), data)
    assert response.status_code == 200
    assert message in response.content.decode()


def test_what_changed_since_the_preview_is_shown_before_it_is_applied(
    sign_in, course, section, other_section, instructor
):
    client = sign_in(instructor)
    shown = preview(client, course)
    lilei = Person.objects.create_user("lilei", display_name="李 雷")
    enrol_person(course=course, person=lilei, role=Role.STUDENT, section=other_section)
    response = preview(client, course, digest=digest_in(shown))
    assert "not what was shown before" in response.content.decode()
    assert Enrolment.objects.get(person=lilei).section == other_section


def test_an_archived_course_takes_no_roster(sign_in, course, instructor):
    set_archived(actor=instructor, course=course, archived=True)
    assert preview(sign_in(instructor), course).status_code == 403


def test_those_without_a_password_are_invited_by_mail(
    sign_in, course, section, instructor, student, mailoutbox
):
    client = sign_in(instructor)
    preview(client, course, digest=digest_in(preview(client, course)))
    assert client.post(url_of("invite-people", course)).status_code == 302
    assert [mail.to for mail in mailoutbox] == [["lilei@larkmoor.example"]]
    assert "Organic Laboratory II" in mailoutbox[0].subject
    assert "lilei" in mailoutbox[0].body


@pytest.fixture
def newcomer(course, section):
    """A student who has never signed in."""
    person = Person.objects.create_user("nils.new", display_name="Nils New", email="nils@x.example")
    enrol_person(course=course, person=person, role=Role.STUDENT, section=section)
    return person


def test_a_link_handed_over_sets_the_first_password_and_the_person_is_told(
    client, sign_in, instructor, newcomer, enrolment_of, mailoutbox
):
    page = sign_in(instructor).post(url_of("make-password-link", enrolment_of(newcomer)))
    link = re.search(r"http://testserver(/password/set/\S+?)<", page.content.decode()).group(1)
    assert [mail.to for mail in mailoutbox] == [["nils@x.example"]]
    assert "Iris Instructor has made a link" in mailoutbox[0].body
    assert link not in mailoutbox[0].body
    client.logout()
    phrase = "quite another phrase"
    assert client.post(link, {"new_password1": phrase, "new_password2": phrase}).status_code == 302
    assert AuditEntry.objects.get(action="make-password-link").object_id == str(newcomer.public_id)
    newcomer.refresh_from_db()
    profile = sign_in(newcomer).get("/me/").content.decode()
    assert "Made by Iris Instructor" in profile
    again = sign_in(instructor).post(url_of("make-password-link", enrolment_of(newcomer)))
    assert again.status_code == 403


def test_a_mail_server_that_fails_keeps_nobody_from_coming_in(
    sign_in, instructor, newcomer, enrolment_of, settings
):
    settings.EMAIL_BACKEND = "tests.web.courses.test_roster_pages.FailingBackend"
    page = sign_in(instructor).post(url_of("make-password-link", enrolment_of(newcomer)))
    assert "/password/set/" in page.content.decode()


class FailingBackend(BaseEmailBackend):
    def send_messages(self, email_messages):
        raise SMTPException("421 try later")


def test_nobody_signs_in_as_a_student_by_a_role_in_the_course(
    sign_in, instructor, student, enrolment_of
):
    client, enrolment = sign_in(instructor), enrolment_of(student)
    assert client.post(url_of("make-password-link", enrolment)).status_code == 403
    page = client.get(url_of("show-enrolment", enrolment)).content.decode()
    assert "Make a password link" not in page


@pytest.mark.parametrize("colleague", ["ta", "co_instructor"])
def test_a_colleague_made_a_student_is_not_signed_in_as_nor_readdressed(
    sign_in, course, section, instructor, ta, co_instructor, enrolment_of, colleague
):
    """The roster makes them a student, and then their sign-in was handed over."""
    person = {"ta": ta, "co_instructor": co_instructor}[colleague]
    before = person.email, person.display_name
    text = (
        "name,sign_in,email,role,section,outside_id\n"
        f"Mallory,{person.sign_in},mallory@evil.example,student,Tuesday A,\n"
    )
    client = sign_in(instructor)
    shown = preview(client, course, text)
    assert "their own account: name and e-mail are kept as they are" in shown.content.decode()
    preview(client, course, text, digest=digest_in(shown))
    enrolment = enrolment_of(person)
    assert enrolment.role == Role.STUDENT
    for name in ("make-password-link", "sign-out-everywhere", "lift-sign-in-stop"):
        assert client.post(url_of(name, enrolment)).status_code == 403, name
    page = client.get(url_of("show-enrolment", enrolment)).content.decode()
    assert "Make a password link" not in page
    person.refresh_from_db()
    assert (person.email, person.display_name) == before
    # Nor after they are taken out of the course and brought back.
    client.post(url_of("remove-person", enrolment))
    preview(client, course, text, digest=digest_in(preview(client, course, text)))
    assert client.post(url_of("make-password-link", enrolment_of(person))).status_code == 403


@pytest.fixture
def co_instructor(course):
    return make_member(course, "cora.colleague", Role.INSTRUCTOR)


def test_a_roster_renames_nobody_of_another_course(
    sign_in, course, section, instructor, outsider
):
    """Not even where its instructor teaches the other course too."""
    other = Course.objects.create(title="Another of hers", term="Autumn")
    enrol_person(course=other, person=instructor, role=Role.INSTRUCTOR)
    elsewhere = make_member(
        other, "elsa.elsewhere", Role.STUDENT, section=other.sections.create(name="Z")
    )
    text = (
        "name,sign_in,email,role,section,outside_id\n"
        "Mallory,elsa.elsewhere,mallory@evil.example,student,Tuesday A,\n"
    )
    client = sign_in(instructor)
    preview(client, course, text, digest=digest_in(preview(client, course, text)))
    elsewhere.refresh_from_db()
    assert elsewhere.display_name == "Elsa Elsewhere"
    assert elsewhere.email == "elsa.elsewhere@larkmoor.example"
    assert Enrolment.objects.filter(course=course, person=elsewhere).exists()


def test_who_was_staff_before_that_was_kept_is_found_in_the_log(course, section, ta, instructor):
    Enrolment.objects.filter(person=ta).update(role=Role.STUDENT, was_staff=False)
    AuditEntry.objects.create(
        actor=instructor,
        actor_name="Iris",
        course=course,
        action="apply-roster",
        details={"people": [{"sign_in": ta.sign_in, "role": "ta"}]},
    )
    find_staff(apps, None)
    assert Enrolment.objects.get(person=ta).was_staff


def test_no_link_gives_away_the_account_of_a_ta_or_of_somebody_elses_student(
    sign_in, instructor, ta, student, outsider, enrolment_of
):
    client = sign_in(instructor)
    assert client.post(url_of("make-password-link", enrolment_of(ta))).status_code == 403
    other_course = outsider.enrolments.get().course
    other = other_course.sections.create(name="Z")
    enrol_person(course=other_course, person=student, role=Role.STUDENT, section=other)
    assert client.post(url_of("make-password-link", enrolment_of(student))).status_code == 403


def test_a_managed_student_is_signed_out_on_every_device(
    sign_in, instructor, student, enrolment_of
):
    phones = [Client(), Client()]
    for phone in phones:
        phone.force_login(student, backend="django.contrib.auth.backends.ModelBackend")
    client, url = sign_in(instructor), url_of("sign-out-everywhere", enrolment_of(student))
    assert url in client.get(url_of("show-enrolment", enrolment_of(student))).content.decode()
    page = client.post(url, follow=True).content.decode()
    assert "Stina Student is signed out on every device" in page
    assert [phone.get("/me/").status_code for phone in phones] == [302, 302]
    entry = AuditEntry.objects.get(action="sign-out-everywhere")
    assert (entry.actor, entry.object_id) == (instructor, str(student.public_id))


def test_nobody_else_is_signed_out_by_an_instructor(
    sign_in, course, instructor, ta, student, enrolment_of
):
    phone, client = Client(), sign_in(instructor)
    phone.force_login(ta, backend="django.contrib.auth.backends.ModelBackend")
    url = url_of("sign-out-everywhere", enrolment_of(ta))
    assert url not in client.get(url_of("show-enrolment", enrolment_of(ta))).content.decode()
    assert client.post(url).status_code == 403
    assert phone.get("/me/").status_code == 200
    set_archived(actor=instructor, course=course, archived=True)
    assert client.post(url_of("sign-out-everywhere", enrolment_of(student))).status_code == 403


def try_to_sign_in(browser, password):
    answer = {"username": "stina.student", "password": password}
    return browser.post("/sign-in/", answer).status_code


def test_a_student_is_let_in_again_after_wrong_passwords(
    sign_in, instructor, student, enrolment_of, settings
):
    """Typed by anybody at the lab's address, or by themselves on the device they always use."""
    lab, own = Client(), Client()
    assert try_to_sign_in(own, "correct horse") == 302
    own.post("/sign-out/")
    page, url = (url_of(name, enrolment_of(student)) for name in (
        "show-enrolment", "lift-sign-in-stop"))  # fmt: skip
    client = sign_in(instructor)
    for browser in (lab, own):
        assert url not in client.get(page).content.decode()
        for _ in range(settings.AXES_FAILURE_LIMIT):
            try_to_sign_in(browser, "wrong")
        assert try_to_sign_in(browser, "correct horse") == 429
        assert url in client.get(page).content.decode()
        shown = client.post(url, follow=True).content.decode()
        assert "Stina Student can sign in again at once" in shown
        assert try_to_sign_in(browser, "correct horse") == 302
    entry = AuditEntry.objects.filter(action="lift-sign-in-stop").last()
    assert (entry.actor, entry.object_id) == (instructor, str(student.public_id))


def test_somebody_who_left_keeps_their_place_in_the_records(
    sign_in, instructor, student, enrolment_of
):
    response = sign_in(instructor).post(url_of("remove-person", enrolment_of(student)))
    assert response.status_code == 302
    assert not enrolment_of(student).is_current


def test_the_last_instructor_stays(sign_in, instructor, enrolment_of):
    response = sign_in(instructor).post(
        url_of("remove-person", enrolment_of(instructor)), follow=True
    )
    assert "needs an instructor" in response.content.decode()
    assert enrolment_of(instructor).is_current
