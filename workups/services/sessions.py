from django.db import transaction

from workups.models import Course, Person, Session
from workups.services.audit import record_audit


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
    record_audit(
        actor=person, action="sign-out-device", subject=person, details={"device": words}
    )


@transaction.atomic
def sign_out_other_devices(*, person: Person, own_session: str | None) -> None:
    end_sessions(person=person, but=own_session)
    record_audit(actor=person, action="sign-out-other-devices", subject=person)


@transaction.atomic
def sign_everybody_out() -> None:
    """End every session there is, those at stations too."""
    Session.objects.all().delete()
    record_audit(actor=None, action="sign-everybody-out")
