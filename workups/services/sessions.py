from workups.models import Person, Session


def end_sessions(*, person: Person, but: str | None = None) -> int:
    """Sign the person out everywhere, but for the session of this key; how many were ended.

    Whatever changes how a person signs in calls this in its transaction; its view then gives the
    session that goes on a new key (`update_session_auth_hash`).
    """
    ended, _ = Session.objects.filter(person=person).exclude(session_key=but).delete()
    return ended
