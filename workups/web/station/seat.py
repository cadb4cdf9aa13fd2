"""Who is at the station: kept in the session, for a short while, apart from any sign-in."""

import time
from dataclasses import dataclass

from django.http import HttpRequest

from workups.models import Work
from workups.selectors.works import works_with_everything
from workups.services.station import pin_seal, seal_holds

KEY = "station"


@dataclass(frozen=True)
class Seat:
    work: Work
    idle_s: int


def take_seat(request: HttpRequest, work: Work, idle_minutes: int) -> None:
    request.session.cycle_key()
    request.session[KEY] = {
        "work": str(work.public_id),
        "seal": pin_seal(work),
        "idle_s": 60 * idle_minutes,
        "until": time.time() + 60 * idle_minutes,
    }


def seat_of(request: HttpRequest) -> Seat | None:
    """The seat while it lasts; asking for it makes it last anew. None once it is over."""
    kept = request.session.get(KEY)
    if kept is None:
        return None
    work = works_with_everything().filter(public_id=kept["work"]).first()
    over = time.time() > kept["until"]
    if over or work is None or work.enrolment.left_at or not seal_holds(work, kept["seal"]):
        leave_seat(request)
        return None
    request.session[KEY] = {**kept, "until": time.time() + kept["idle_s"]}
    return Seat(work, kept["idle_s"])


def leave_seat(request: HttpRequest) -> None:
    """Leave nothing of the seat behind; somebody signed in on this browser stays so."""
    request.session.pop(KEY, None)
    if not request.user.is_authenticated:
        request.session.flush()
