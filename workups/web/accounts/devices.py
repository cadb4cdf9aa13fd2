"""The devices a person is signed in on: noted in each session, listed for that person alone."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.contrib.auth import HASH_SESSION_KEY
from django.contrib.auth.signals import user_logged_in
from django.contrib.sessions.backends.base import UpdateError
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.timezone import localtime

from workups.models import Person, Session
from workups.models.sessions import DEVICE

NOTED_EVERY = timedelta(hours=1)


@dataclass(frozen=True)
class Device:
    """`key` is for forms: the key of a session is a secret. `used` is right to an hour."""

    key: str
    words: str
    since: datetime
    used: datetime
    session_key: str

    @property
    def text(self) -> str:
        hour = self.used.replace(minute=0, second=0, microsecond=0)
        since, used = (in_words(moment) for moment in (self.since, max(self.since, hour)))
        return f"{self.words}: signed in {since}; last used about {used}"


def in_words(moment: datetime) -> str:
    return date_format(localtime(moment), settings.SHORT_DATETIME_FORMAT)


@receiver(user_logged_in)
def note_device(request: HttpRequest, **_more: Any) -> None:
    now = timezone.now().isoformat()
    request.session[DEVICE] = {
        "key": str(uuid4()),
        "words": device_words(request.headers.get("User-Agent", "")),
        "since": now,
        "used": now,
    }


def note_use(request: HttpRequest) -> None:
    """Once an hour that the device is in use. A page is shown even where nothing can be written."""
    session = request.session
    noted = session.get(DEVICE)
    now = timezone.now()
    if noted is None or now - datetime.fromisoformat(noted["used"]) < NOTED_EVERY:
        return
    modified = session.modified
    session[DEVICE] = noted | {"used": now.isoformat()}
    try:
        session.save()
    except UpdateError:
        session[DEVICE] = noted
    session.modified = modified


def devices_of(person: Person) -> list[Device]:
    """Where the person is signed in, the device used last first."""
    valid = {person.get_session_auth_hash(), *person.get_session_auth_fallback_hash()}
    rows = Session.objects.filter(person=person, expire_date__gt=timezone.now())
    kept = [(row.session_key, row.get_decoded()) for row in rows]
    devices = [
        device_from(data[DEVICE], session_key)
        for session_key, data in kept
        if data.get(HASH_SESSION_KEY) in valid and DEVICE in data
    ]
    return sorted(devices, key=lambda device: device.used, reverse=True)


def device_from(noted: dict[str, str], session_key: str) -> Device:
    since, used = (datetime.fromisoformat(noted[when]) for when in ("since", "used"))
    return Device(noted["key"], noted["words"], since, used, session_key)


# A browser and its system in plain words. Only words of ours come out, whatever was sent.


# The first that stands in the header counts: most browsers name others behind their own name.
BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome or Chromium"),  # both say the same
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("Windows", "Windows"),
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Macintosh", "macOS"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def device_words(user_agent: str) -> str:
    """Such as "Firefox on Windows"."""
    browser = _first(BROWSERS, user_agent) or "Unknown browser"
    system = _first(SYSTEMS, user_agent)
    return f"{browser} on {system}" if system else browser


def _first(names: tuple[tuple[str, str], ...], user_agent: str) -> str:
    return next((words for sign, words in names if sign in user_agent), "")
