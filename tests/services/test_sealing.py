"""What is sealed says nothing, opens with the right secret only, and shows any change."""

from base64 import urlsafe_b64decode, urlsafe_b64encode

import pytest
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from workups.services.sealing import CannotBeOpened, seal, unseal

OLD, NEW = "the secret of last year", "the secret of this year"
TEXT, ABOUT = "JBSWY3DPEHPK3PXP", "second step of somebody"


@pytest.fixture(autouse=True)
def _secret(settings):
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = OLD, []


def test_what_is_sealed_is_opened_again_and_says_nothing():
    sealed = seal(TEXT, about=ABOUT)
    assert unseal(sealed, about=ABOUT) == TEXT
    assert TEXT not in sealed
    assert TEXT.encode() not in urlsafe_b64decode(sealed)
    assert seal(TEXT, about=ABOUT) != sealed


def test_the_algorithms_are_those_that_are_named():
    """Opened here by AES-256-GCM (SP 800-38D) with a key of HKDF-SHA-256 (RFC 5869)."""
    raw = urlsafe_b64decode(seal(TEXT, about=ABOUT))
    key = HKDF(SHA256(), 32, None, b"labcourse.sealing").derive(OLD.encode())
    assert AESGCM(key).decrypt(raw[:12], raw[12:], ABOUT.encode()) == TEXT.encode()
    assert len(raw) == 12 + len(TEXT) + 16


def test_a_secret_of_before_still_opens(settings):
    sealed = seal(TEXT, about=ABOUT)
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = NEW, ["another", OLD]
    assert unseal(sealed, about=ABOUT) == TEXT
    again = seal(TEXT, about=ABOUT)
    settings.SECRET_KEY_FALLBACKS = []
    assert unseal(again, about=ABOUT) == TEXT
    with pytest.raises(CannotBeOpened):
        unseal(sealed, about=ABOUT)


def test_a_seal_fits_only_what_it_is_about():
    with pytest.raises(CannotBeOpened):
        unseal(seal(TEXT, about=ABOUT), about="second step of another")


def test_every_changed_byte_is_noticed():
    raw = urlsafe_b64decode(seal(TEXT, about=ABOUT))
    for at in range(len(raw)):
        changed = raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :]
        with pytest.raises(CannotBeOpened):
            unseal(urlsafe_b64encode(changed).decode(), about=ABOUT)


@pytest.mark.parametrize("sealed", ["", "x", TEXT, "é", "AAAA", "A" * 400])
def test_anything_else_cannot_be_opened(sealed):
    with pytest.raises(CannotBeOpened):
        unseal(sealed, about=ABOUT)
