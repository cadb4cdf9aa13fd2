"""The second step of sign-in: a code from an authenticator, or one of ten from paper."""

import secrets
from datetime import timedelta
from hashlib import pbkdf2_hmac

from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from pyotp import TOTP, random_base32

from workups.models import Person, RecoveryCode, SecondStep
from workups.services.accounts import end_sessions
from workups.services.audit import record_audit
from workups.services.refusals import Refused
from workups.services.sealing import CannotBeOpened, seal, unseal

ISSUER = "Labcourse"
# Clocks of telephones are off: the code before and the one after are taken too.
COUNTERS_OFF = (0, -1, 1)
WRONG_CODES, LOCKED_FOR = 5, timedelta(minutes=15)
RECOVERY_CODES = 10
# Without vowels and signs that look alike; 12 of 24 signs are 55 bits, so they are kept like
# passwords: PBKDF2. All codes of a person share the salt, so that a code is looked up by one
# computation.
HASH_ROUNDS = 600_000
_SIGNS, _LENGTH = "bcdfghjkmnpqrtvwxy346789", 12


class WrongCode(Refused):
    """The code is none of this person's, is too old, or was used before."""


class KeyIsLost(Refused):
    """The authenticator's key was sealed by a SECRET_KEY that is gone."""


class TooManyCodes(Refused):
    """Too many wrong codes in a row; for a quarter of an hour none is taken."""


def find_second_step(person: Person) -> SecondStep | None:
    """The person's second step, if it is set up and confirmed."""
    return SecondStep.objects.filter(person=person, confirmed_at__isnull=False).first()


@transaction.atomic
def begin_second_step(*, person: Person) -> SecondStep:
    """A key that is not in use before a code confirms it; the same until then."""
    new = {"sealed_key": _sealed(random_base32(), person)}
    step, _ = SecondStep.objects.get_or_create(person=person, defaults=new)
    if step.confirmed_at is None and _is_lost(step):
        step.sealed_key = new["sealed_key"]
        step.save(update_fields=["sealed_key"])
    return step


def key_of(step: SecondStep) -> str:
    """The key in base 32. Raises KeyIsLost."""
    try:
        return unseal(step.sealed_key, about=_about(step.person))
    except CannotBeOpened as problem:
        raise KeyIsLost from problem


def seal_key_anew(*, step: SecondStep) -> None:
    """Sealed by the SECRET_KEY of now, so that an older one can go. Raises KeyIsLost."""
    step.sealed_key = _sealed(key_of(step), step.person)
    step.save(update_fields=["sealed_key"])


def _sealed(key: str, person: Person) -> str:
    return seal(key, about=_about(person))


def _about(person: Person) -> str:
    return f"second step of {person.public_id}"


def _is_lost(step: SecondStep) -> bool:
    try:
        key_of(step)
    except KeyIsLost:
        return True
    return False


def enrolment_uri(step: SecondStep) -> str:
    """What the QR code says: an otpauth address with the key."""
    return TOTP(key_of(step)).provisioning_uri(name=step.person.sign_in, issuer_name=ISSUER)


def confirm_second_step(*, person: Person, code: str, own_session: str | None = None) -> list[str]:
    """Put the key in use; gives the recovery codes, which are shown this once.

    Ends every session of the person but `own_session`.
    """
    step = _take_code(person, code, confirmed=False)
    with transaction.atomic():
        step.confirmed_at = timezone.now()
        step.recovery_salt = secrets.token_hex(16)
        step.save(update_fields=["confirmed_at", "recovery_salt"])
        step.recovery_codes.all().delete()
        codes = ["".join(secrets.choice(_SIGNS) for _ in range(_LENGTH)) for _ in range(
            RECOVERY_CODES
        )]
        RecoveryCode.objects.bulk_create(
            RecoveryCode(step=step, digest=_digest(step, code)) for code in codes
        )
        end_sessions(person=person, but=own_session)
        record_audit(actor=person, action="set-up-second-step", subject=person)
    return ["-".join((c[:4], c[4:8], c[8:])) for c in codes]


def check_code(*, person: Person, code: str) -> None:
    """A code at sign-in. Raises WrongCode, TooManyCodes or KeyIsLost."""
    _take_code(person, code, confirmed=True)


@transaction.atomic
def drop_second_step(
    *, actor: Person | None, person: Person, own_session: str | None = None
) -> None:
    """Sign-in by password alone again; ends every session of the person but `own_session`.

    `actor` is None for whoever runs the server.
    """
    if SecondStep.objects.filter(person=person).delete()[0]:
        end_sessions(person=person, but=own_session)
        record_audit(actor=actor, action="drop-second-step", subject=person)


def _take_code(person: Person, code: str, *, confirmed: bool) -> SecondStep:
    """The step whose code this is; a wrong one is counted, whatever becomes of the request."""
    with transaction.atomic():
        step = (
            SecondStep.objects.select_for_update()
            .filter(person=person, confirmed_at__isnull=not confirmed)
            .first()
        )
        if step is None:
            raise WrongCode
        if step.locked_until is not None and step.locked_until > timezone.now():
            raise TooManyCodes
        is_right = _fits(step, code) or (confirmed and _use_recovery_code(step, code))
        _count(step, is_right)
    if not is_right:
        raise WrongCode
    return step


def _fits(step: SecondStep, code: str) -> bool:
    typed = "".join(code.split())
    if not (len(typed) == 6 and typed.isascii() and typed.isdigit()):
        return False
    totp = TOTP(key_of(step))
    now = int(timezone.now().timestamp()) // totp.interval
    for counter in (now + off for off in COUNTERS_OFF):
        if counter > step.last_counter and constant_time_compare(totp.generate_otp(counter), typed):
            step.last_counter = counter
            return True
    return False


def _use_recovery_code(step: SecondStep, code: str) -> bool:
    bare = "".join(code.split()).replace("-", "").casefold()
    if len(bare) != _LENGTH:
        return False
    used = step.recovery_codes.filter(digest=_digest(step, bare), used_at__isnull=True).update(
        used_at=timezone.now()
    )
    if used:
        record_audit(actor=step.person, action="use-recovery-code", subject=step.person)
    return bool(used)


def _digest(step: SecondStep, code: str) -> str:
    salt = step.recovery_salt or key_of(step)
    return pbkdf2_hmac("sha256", code.encode(), salt.encode(), HASH_ROUNDS).hex()


def _count(step: SecondStep, is_right: bool) -> None:
    step.wrong_codes = 0 if is_right else step.wrong_codes + 1
    step.locked_until = None
    if step.wrong_codes >= WRONG_CODES:
        step.wrong_codes, step.locked_until = 0, timezone.now() + LOCKED_FOR
    step.save(update_fields=["last_counter", "wrong_codes", "locked_until"])
