"""Sessions that know whose they are, so that all of a person's can be found and ended.

Django's own way to extend its sessions; settings.SESSION_ENGINE names this module.
"""

from datetime import datetime, timedelta
from typing import Any, cast

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from workups.models.people import Person

# Where the session's data says what is known of the device (web/accounts/devices.py).
DEVICE = "device"


class Session(AbstractBaseSession):
    """A browser's session. `person` is who is signed in there; None at a station, or nobody."""

    person = models.ForeignKey(Person, null=True, on_delete=models.CASCADE, related_name="sessions")

    @classmethod
    def get_session_store_class(cls) -> "type[SessionStore]":
        return SessionStore


class SessionStore(DatabaseStore):
    @classmethod
    def get_model_class(cls) -> type[Session]:
        return Session

    def create_model_instance(self, data: dict[str, Any]) -> Session:
        session = cast(Session, super().create_model_instance(data))
        session.person_id = data.get(SESSION_KEY)
        if DEVICE in data:  # seven days after sign-in it ends, however often it was saved since
            since = datetime.fromisoformat(data[DEVICE]["since"])
            last = since + timedelta(seconds=settings.SESSION_COOKIE_AGE)
            session.expire_date = min(session.expire_date, last)
        return session
