"""The shared station by the balances: a bench code and a short PIN open one record's weighings."""

from datetime import timedelta

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from workups.models import Person, StationFailure, Work
from workups.selectors.works import works_with_everything
from workups.services.audit import record_audit
from workups.services.refusals import Refused

# A whole class types at one station, so tries are counted per code and address; per code over all
# addresses more are allowed, so that nobody can lock another out from afar at once.
TRIES, TRIES_WINDOW = 5, timedelta(minutes=15)
TRIES_ANYWHERE, ANYWHERE_WINDOW = 20, timedelta(hours=1)
# Each try costs a hash, at the station and at sign-in from a device that is not known: so many
# wrong ones a class makes, somebody who tries codes or names makes more. All addresses together
# keep one processor busy for less than half of the time.
TRIES_OF_AN_ADDRESS, TRIES_OF_ALL = 120, 600
SIGN_IN = "sign-in"
KEPT_FOR = timedelta(days=1)


class WrongCodeOrPin(Refused):
    """No work has this code with this PIN, or it has no PIN, or its owner has left."""


class TooManyTries(Refused):
    """This code, or codes from this address, were tried too often; later they can be again."""


@transaction.atomic
def set_station_pin(*, actor: Person, work: Work, pin: str) -> None:
    """Set the PIN, or take it away with an empty one. Whoever is at the station is signed out."""
    work.station_pin = make_password(pin) if pin else ""
    work.save(update_fields=["station_pin"])
    record_audit(actor=actor, action="set-station-pin", subject=work, course=work.revision.course)


def enter_station(*, code: str, pin: str, address: str | None) -> Work:
    """The work that the code and PIN stand for.

    Raises WrongCodeOrPin, the same for a code that nobody has, and TooManyTries.
    """
    attempt = begin_try(what=code, address=address)
    work = works_with_everything().filter(bench_code=code).first()
    stored = work.station_pin if work else ""
    if not _fits(pin, stored) or work is None or work.enrolment.left_at is not None:
        raise WrongCodeOrPin
    attempt.delete()
    return work


@transaction.atomic
def begin_try(*, what: str, address: str | None) -> StationFailure:
    """Counted before it is checked, since tries sent all at once count too; deleted if it fits.

    `what` is the code, or SIGN_IN. Raises TooManyTries, before anything is hashed.
    """
    StationFailure.objects.filter(at__lt=timezone.now() - KEPT_FOR).delete()
    if _is_locked(what, address):
        raise TooManyTries
    return StationFailure.objects.create(code=what, address=address)


def _fits(pin: str, stored: str) -> bool:
    """One hash in every case, so that time does not tell which codes exist or have a PIN."""
    if not stored:
        make_password(pin)
        return False
    return check_password(pin, stored)


def _is_locked(code: str, address: str | None) -> bool:
    now = timezone.now()
    lately = StationFailure.objects.filter(at__gte=now - TRIES_WINDOW)
    if lately.count() >= TRIES_OF_ALL:
        return True
    if lately.filter(address=address).count() >= TRIES_OF_AN_ADDRESS:
        return True
    if code == SIGN_IN:  # by name django-axes counts them
        return False
    tries = StationFailure.objects.filter(code=code)
    here = tries.filter(address=address, at__gte=now - TRIES_WINDOW).count()
    anywhere = tries.filter(at__gte=now - ANYWHERE_WINDOW).count()
    return here >= TRIES or anywhere >= TRIES_ANYWHERE


def pin_seal(work: Work) -> str:
    """What a station's session keeps of the PIN; another PIN gives another seal."""
    return salted_hmac("labcourse.station", f"{work.pk}:{work.station_pin}").hexdigest()


def seal_holds(work: Work, seal: str) -> bool:
    return bool(work.station_pin) and constant_time_compare(pin_seal(work), seal)
