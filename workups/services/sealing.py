"""Short secrets that database and backups must not hold as they are: sealed by SECRET_KEY.

AES-256-GCM with a random nonce of 96 bits (NIST SP 800-38D), its key from SECRET_KEY by
HKDF-SHA-256 (RFC 5869). What was sealed with one of SECRET_KEY_FALLBACKS is opened too.
"""

import secrets
from base64 import urlsafe_b64decode, urlsafe_b64encode

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

PURPOSE = b"labcourse.sealing"
_KEY_BYTES, _NONCE_BYTES = 32, 12


class CannotBeOpened(Exception):
    """Sealed by a SECRET_KEY that is gone, about something else, or changed since."""


def seal(text: str, *, about: str) -> str:
    """Printable; to be opened with the same `about` only, so that seals cannot be swapped."""
    nonce = secrets.token_bytes(_NONCE_BYTES)
    closed = _cipher(settings.SECRET_KEY).encrypt(nonce, text.encode(), about.encode())
    return urlsafe_b64encode(nonce + closed).decode()


def unseal(sealed: str, *, about: str) -> str:
    """Raises CannotBeOpened."""
    try:
        raw = urlsafe_b64decode(sealed)
        nonce, closed = raw[:_NONCE_BYTES], raw[_NONCE_BYTES:]
    except ValueError as problem:
        raise CannotBeOpened from problem
    for secret in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS):
        try:
            return _cipher(secret).decrypt(nonce, closed, about.encode()).decode()
        except (InvalidTag, ValueError):  # ValueError: too short to be sealed
            continue
    raise CannotBeOpened


def _cipher(secret: str) -> AESGCM:
    derived = HKDF(algorithm=SHA256(), length=_KEY_BYTES, salt=None, info=PURPOSE)
    return AESGCM(derived.derive(secret.encode()))
