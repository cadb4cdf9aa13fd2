import re
from smtplib import SMTPServerDisconnected

import pytest
from django.core.mail.backends import locmem
from django.urls import reverse

from workups.models import AuditEntry, Person
from workups.services.accounts import Site, password_link

NEW = "quite another phrase"
SITE = Site(origin="http://testserver")


def link_in(mail):
    return re.search(r"http://testserver(\S+)", mail.body).group(1)


def ask_for_link(client, words):
    return client.post(reverse("forgot-password"), {"words": words})


@pytest.mark.parametrize("words", ["stina.student", "Stina.Student@Larkmoor.example"])
def test_a_mailed_link_sets_the_password_once(client, student, mailoutbox, words):
    assert ask_for_link(client, words).status_code == 200
    link = link_in(mailoutbox[0])
    assert client.get(link).status_code == 200
    response = client.post(link, {"new_password1": NEW, "new_password2": NEW})
    assert response.url == "/first-page/"
    student.refresh_from_db()
    assert student.check_password(NEW)
    assert client.session["_auth_user_id"] == str(student.pk)
    client.logout()
    assert client.get(link).status_code == 410


@pytest.fixture
def mail_fails(monkeypatch):
    """The mail server takes `mail_fails(n)` mails, then no more."""

    def take(count):
        sends = locmem.EmailBackend.send_messages
        left = iter(range(count))

        def send(backend, mails):
            if next(left, None) is None:
                raise SMTPServerDisconnected
            return sends(backend, mails)

        monkeypatch.setattr(locmem.EmailBackend, "send_messages", send)

    return take


def test_a_mail_server_that_fails_does_not_tell_who_has_an_account(
    client, student, mail_fails, caplog
):
    mail_fails(0)
    page = ask_for_link(client, "stina.student")
    assert page.status_code == 200
    assert "a link is on its way" in page.content.decode()
    assert "could be sent" in caplog.text
    assert not AuditEntry.objects.filter(action="mail-password-link").exists()


def test_invitations_up_to_the_failure_of_the_mail_server_are_kept(
    sign_in, instructor, course, student, classmate, mail_fails, mailoutbox
):
    Person.objects.filter(pk__in=[student.pk, classmate.pk]).update(password="!")
    mail_fails(1)
    url = reverse("invite-people", args=[course.public_id])
    page = sign_in(instructor).post(url, follow=True).content.decode()
    assert "The mail server does not take our mail. Invitations sent before: 1." in page
    assert len(mailoutbox) == AuditEntry.objects.filter(action="invite").count() == 1


def test_the_answer_does_not_tell_who_has_an_account(client, student, mailoutbox):
    known, unknown = (
        re.sub(r'csrfmiddlewaretoken" value="\w+|X-CSRFToken": "\w+', "", page.content.decode())
        for page in (ask_for_link(client, "stina.student"), ask_for_link(client, "nobody"))
    )
    assert known == unknown
    assert len(mailoutbox) == 1


def test_at_most_three_links_an_hour_are_mailed(client, student, mailoutbox):
    for _ in range(5):
        ask_for_link(client, "stina.student")
    assert len(mailoutbox) == 3


def test_a_person_without_a_password_yet_gets_a_link_too(client, db, mailoutbox):
    Person.objects.create_user("nora", display_name="Nora", email="nora@larkmoor.example")
    ask_for_link(client, "nora")
    assert mailoutbox[0].to == ["nora@larkmoor.example"]


def test_an_empty_request_is_shown_again(client, db):
    response = ask_for_link(client, "")
    assert response.status_code == 200
    assert "required" in response.content.decode()


@pytest.mark.parametrize(("first", "second"), [(NEW, "different"), ("short", "short"), ("", "")])
def test_a_poor_password_is_refused_and_the_form_shown_again(client, student, first, second):
    link = password_link(student, SITE).removeprefix(SITE.origin)
    response = client.post(link, {"new_password1": first, "new_password2": second})
    assert response.status_code == 200
    assert "Not saved yet" in response.content.decode()
    student.refresh_from_db()
    assert student.check_password("correct horse")


def test_a_link_for_another_person_or_with_another_token_is_refused(client, student, ta):
    token = password_link(student, SITE).rstrip("/").rsplit("/", 1)[1]
    assert client.get(reverse("set-password", args=[ta.public_id, token])).status_code == 410
    assert client.get(reverse("set-password", args=[student.public_id, "x-y"])).status_code == 410


def test_a_link_runs_out(client, student, settings, time_machine):
    time_machine.move_to("2026-09-01T08:00:00+00:00", tick=False)
    link = password_link(student, SITE).removeprefix(SITE.origin)
    time_machine.shift(settings.PASSWORD_RESET_TIMEOUT + 1)
    assert client.get(link).status_code == 410


def test_other_methods_are_refused(client, student):
    link = password_link(student, SITE).removeprefix(SITE.origin)
    assert client.put(link).status_code == 405
    assert client.put(reverse("forgot-password")).status_code == 405


def test_changing_the_password_keeps_this_session_and_is_logged(sign_in, student):
    client = sign_in(student)
    data = {"old_password": "correct horse", "new_password1": NEW, "new_password2": NEW}
    response = client.post(reverse("change-password"), data)
    assert response.url == reverse("show-profile")
    student.refresh_from_db()
    assert student.check_password(NEW)
    assert client.get(reverse("show-profile")).status_code == 200
    assert AuditEntry.objects.get(action="set-password").actor == student


def test_changing_the_password_needs_the_old_one(sign_in, student):
    data = {"old_password": "wrong", "new_password1": NEW, "new_password2": NEW}
    response = sign_in(student).post(reverse("change-password"), data)
    assert response.status_code == 200
    student.refresh_from_db()
    assert student.check_password("correct horse")


def test_changing_the_password_is_for_people_signed_in(leads_to_sign_in, db):
    assert leads_to_sign_in(reverse("change-password"))


def test_changing_the_password_takes_get_and_post(sign_in, student):
    assert sign_in(student).get(reverse("change-password")).status_code == 200
    assert sign_in(student).put(reverse("change-password")).status_code == 405
