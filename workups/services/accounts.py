import logging
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from smtplib import SMTPException
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.core.mail import EmailMessage, get_connection
from django.db import transaction
from django.db.models import QuerySet
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone

from workups.models import AuditEntry, Course, Person, Session
from workups.selectors.courses import wrong_passwords_of
from workups.services.audit import record_audit
from workups.services.holding import hold
from workups.services.refusals import Refused


def end_sessions(*, person: Person, but: str | None = None) -> None:
    """Sign the person out on every device, but for the session of this key.

    Whatever changes how a person signs in calls this in its transaction; its view then gives the
    session that goes on a new key (`update_session_auth_hash`).
    """
    Session.objects.filter(person=person).exclude(session_key=but).delete()


@transaction.atomic
def sign_out_everywhere(
    *, actor: Person | None, person: Person, course: Course | None = None
) -> None:
    """For a device that was lost or left open. `actor` is None for whoever runs the server."""
    end_sessions(person=person)
    record_audit(actor=actor, action="sign-out-everywhere", subject=person, course=course)


@transaction.atomic
def sign_out_device(*, person: Person, session_key: str, words: str) -> None:
    """End one session of the person's own; `words` say in the log which it was."""
    Session.objects.filter(person=person, session_key=session_key).delete()
    record_audit(actor=person, action="sign-out-device", subject=person, details={"device": words})


@transaction.atomic
def sign_out_other_devices(*, person: Person, own_session: str | None) -> None:
    end_sessions(person=person, but=own_session)
    record_audit(actor=person, action="sign-out-other-devices", subject=person)


@transaction.atomic
def sign_everybody_out() -> None:
    """End every session there is, those at stations too."""
    Session.objects.all().delete()
    record_audit(actor=None, action="sign-everybody-out")


RESETS_PER_HOUR = 3
WRONG_PASSWORDS, PASSWORDS_WINDOW = 8, timedelta(minutes=15)
LINK_MADE = "make-password-link"
logger = logging.getLogger(__name__)


class TooManyPasswords(Refused):
    """Too many wrong passwords; in a quarter of an hour the next is taken."""


class MailIsNotTaken(Refused):
    """The mail server fails; `sent` mails went out before it did."""

    def __init__(self, sent: int) -> None:
        super().__init__()
        self.sent = sent


@dataclass(frozen=True)
class Site:
    """Where the links in a mail lead: "https://labcourse.example.edu", without a slash."""

    origin: str


def password_link(person: Person, site: Site) -> str:
    """A link with which whoever holds it sets this person's password, once."""
    token = default_token_generator.make_token(person)
    return site.origin + reverse("set-password", args=[person.public_id, token])


def find_person_by_link(public_id: UUID, token: str) -> Person | None:
    """The person whose password the link may set; None when it is wrong, used or too old."""
    person = Person.objects.filter(public_id=public_id, is_active=True).first()
    if person is None or not default_token_generator.check_token(person, token):
        return None
    return person


@transaction.atomic
def set_password(*, person: Person, password: str, own_session: str | None = None) -> None:
    """A new password ends every session but `own_session`, the key of the one that sets it."""
    person.set_password(password)
    person.save(update_fields=["password"])
    end_sessions(person=person, but=own_session)
    record_audit(actor=person, action="set-password", subject=person)


def request_password_reset(*, words: str, site: Site) -> int:
    """Mail a link to everybody whose sign-in name or e-mail this is; how many mails went out.

    At most three an hour for each person, so that nobody's mailbox can be flooded.
    """
    people = Person.objects.filter(is_active=True).exclude(email="")
    matching = people.filter(email__iexact=words) | people.filter(sign_in=words)
    receivers = [person for person in matching.distinct() if not was_mailed_enough(person)]
    count = 0
    try:
        for person in send_links(
            people=receivers, site=site, template="password_reset", course=None
        ):
            record_audit(actor=None, action="mail-password-link", subject=person)
            count += 1
    except MailIsNotTaken:
        # Who asks must not learn by it that somebody has this name.
        logger.exception("no mail with a password link could be sent")
    return count


def was_mailed_enough(person: Person) -> bool:
    since = timezone.now() - timedelta(hours=1)
    return (
        AuditEntry.objects.filter(
            action="mail-password-link", object_id=str(person.public_id), at__gte=since
        ).count()
        >= RESETS_PER_HOUR
    )


def send_invitations(*, actor: Person, course: Course, people: Iterable[Person], site: Site) -> int:
    """Mail a set-password link to each person; how many mails went out.

    Raises MailIsNotTaken where the mail server fails; those mailed before are in the log.
    """
    count = 0
    for person in send_links(people=people, site=site, template="invitation", course=course):
        record_audit(actor=actor, action="invite", subject=person, course=course)
        count += 1
    return count


def hand_over_link(*, actor: Person, person: Person, course: Course, site: Site) -> str:
    """A set-password link that an instructor hands over.

    The log keeps who made it, and the person is told by mail; a mail server that fails stops
    nobody from coming in.
    """
    record_audit(actor=actor, action=LINK_MADE, subject=person, course=course)
    if person.email:
        context = {"person": person, "course": course, "actor": actor}
        try:
            compose_mail("password_link_made", context, person).send()
        except (SMTPException, OSError):
            logger.exception("a mail about a password link could not be sent")
    return password_link(person, site)


def send_links(
    *, people: Iterable[Person], site: Site, template: str, course: Course | None
) -> Iterator[Person]:
    """Mail one after the other over one connection; gives each person as the mail is taken."""
    receivers, sent = list(people), 0
    if not receivers:
        return
    try:
        with get_connection() as connection:
            for person in receivers:
                mail = compose_link_mail(person=person, site=site, template=template, course=course)
                connection.send_messages([mail])
                sent += 1
                yield person
    except (SMTPException, OSError) as problem:
        raise MailIsNotTaken(sent) from problem


def compose_link_mail(
    *, person: Person, site: Site, template: str, course: Course | None
) -> EmailMessage:
    context = {
        "person": person,
        "course": course,
        "link": password_link(person, site),
        "hours": settings.PASSWORD_RESET_TIMEOUT // 3600,
    }
    return compose_mail(template, context, person)


def compose_mail(template: str, context: dict[str, Any], person: Person) -> EmailMessage:
    subject = render_to_string(f"workups/accounts/mail/{template}_subject.txt", context)
    body = render_to_string(f"workups/accounts/mail/{template}.txt", context)
    return EmailMessage(subject=" ".join(subject.split()), body=body, to=[person.email])


def links_made_for(person: Person) -> QuerySet[AuditEntry]:
    """When others made links that set this person's password, for the person to see."""
    return (
        AuditEntry.objects.filter(
            action=LINK_MADE, object_type="person", object_id=str(person.public_id)
        )
        .select_related("actor", "course")
        .order_by("-at")
    )


@transaction.atomic
def lift_sign_in_stop(*, actor: Person, person: Person, course: Course) -> None:
    """The name may be tried again from everywhere, as if nobody had typed a wrong password."""
    wrong_passwords_of(person).delete()
    record_audit(actor=actor, action="lift-sign-in-stop", subject=person, course=course)


def confirm_password(*, person: Person, password: str) -> bool:
    """Whether it is the password of who is signed in. Raises TooManyPasswords.

    Counted before it is checked; a right one starts anew.
    """
    with transaction.atomic():
        hold(person)
        now = timezone.now()
        if person.wrong_password_at is None or now - person.wrong_password_at > PASSWORDS_WINDOW:
            person.wrong_passwords = 0
        if person.wrong_passwords >= WRONG_PASSWORDS:
            raise TooManyPasswords
        person.wrong_passwords, person.wrong_password_at = person.wrong_passwords + 1, now
        person.save(update_fields=["wrong_passwords", "wrong_password_at"])
    if not person.check_password(password):
        return False
    Person.objects.filter(pk=person.pk).update(wrong_passwords=0)
    return True


@transaction.atomic
def change_email(*, person: Person, email: str) -> Person:
    before = person.email
    if before == email:
        return person
    person.email = email
    person.full_clean()
    person.save(update_fields=["email"])
    record_audit(actor=person, action="change-email", subject=person, details={"before": before})
    return person
