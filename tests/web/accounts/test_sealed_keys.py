"""The keys of second steps in the database: not as they are, and what happens when one is lost."""

from importlib import import_module

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection
from django.urls import reverse
from django.utils import timezone
from pyotp import TOTP

from workups.models import RecoveryCode, SecondStep
from workups.services.second_step import (
    KeyIsLost,
    begin_second_step,
    check_code,
    confirm_second_step,
    key_of,
)

MIGRATION = import_module("workups.migrations.0018_seal_keys")
OTHER = "another secret than before"
GOOD = {"username": "tariq.assistant", "password": "correct horse"}


@pytest.fixture(autouse=True)
def _clock(time_machine, monkeypatch):
    monkeypatch.setattr("workups.services.second_step.HASH_ROUNDS", 2)
    time_machine.move_to("2026-09-01T08:00:00+00:00", tick=False)


def step_of(person):
    return SecondStep.objects.get(person=person)


def code_of(key):
    return TOTP(key).at(int(timezone.now().timestamp()))


@pytest.fixture
def codes(ta, time_machine):
    """The recovery codes of the TA's second step."""
    key = key_of(begin_second_step(person=ta))
    codes = confirm_second_step(person=ta, code=code_of(key))
    time_machine.shift(60)
    return codes


def rows():
    """All that the tables of the second step hold, as text."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM workups_secondstep")
        steps = cursor.fetchall()
        cursor.execute("SELECT * FROM workups_recoverycode")
        return repr([*steps, *cursor.fetchall()])


def test_the_database_does_not_hold_the_key(ta, codes):
    key = key_of(step_of(ta))
    assert len(key) == 32
    assert step_of(ta).sealed_key in rows()
    assert key not in rows()


def test_a_new_secret_with_the_old_one_kept_changes_nothing(ta, codes, settings):
    key, settings.SECRET_KEY_FALLBACKS = key_of(step_of(ta)), [settings.SECRET_KEY]
    settings.SECRET_KEY = OTHER
    check_code(person=ta, code=code_of(key))


def test_sealed_anew_it_needs_the_old_secret_no_more(ta, codes, settings, capsys):
    key, settings.SECRET_KEY_FALLBACKS = key_of(step_of(ta)), [settings.SECRET_KEY]
    settings.SECRET_KEY = OTHER
    call_command("reseal_keys")
    assert "Keys sealed: 1." in capsys.readouterr().out
    settings.SECRET_KEY_FALLBACKS = []
    assert key_of(step_of(ta)) == key


def test_keys_that_are_lost_are_named(ta, codes, settings):
    sealed, settings.SECRET_KEY = step_of(ta).sealed_key, OTHER
    with pytest.raises(CommandError, match=r"tariq\.assistant"):
        call_command("reseal_keys")
    assert step_of(ta).sealed_key == sealed


def test_with_a_lost_key_a_recovery_code_signs_in(client, ta, codes, settings):
    key, settings.SECRET_KEY = key_of(step_of(ta)), OTHER
    assert client.post(reverse("sign-in"), GOOD).url == reverse("confirm-sign-in")
    page = client.post(reverse("confirm-sign-in"), {"code": code_of(key)}).content.decode()
    assert "can no longer be read here" in page
    assert client.get("/me/").status_code == 302
    assert client.post(reverse("confirm-sign-in"), {"code": codes[0]}).status_code == 302
    assert client.get("/me/").status_code == 200
    dropped = client.post(reverse("drop-second-step"), {"password": GOOD["password"]})
    assert dropped.status_code == 302
    assert client.get(reverse("set-up-second-step")).status_code == 200


def test_a_lost_key_that_was_not_confirmed_is_made_anew(ta, settings):
    begin_second_step(person=ta)
    settings.SECRET_KEY = OTHER
    key = key_of(begin_second_step(person=ta))
    assert key_of(begin_second_step(person=ta)) == key


def test_the_key_of_another_person_is_none(ta, student, codes):
    """Whoever writes to the database cannot give somebody a key that they know."""
    step = step_of(ta)
    step.person = student
    with pytest.raises(KeyIsLost):
        key_of(step)


def test_keys_from_before_are_sealed_and_opened_again(ta, codes):
    """The data migration, both ways."""
    key = key_of(step_of(ta))
    RecoveryCode.objects.all().delete()
    SecondStep.objects.update(sealed_key=key, recovery_salt="")
    assert key in rows()
    MIGRATION.seal_keys(apps, None)
    assert key not in rows()
    assert key_of(step_of(ta)) == key
    check_code(person=ta, code=code_of(key))
    MIGRATION.open_keys(apps, None)
    assert step_of(ta).sealed_key == key


def test_recovery_codes_from_before_keys_were_sealed_still_sign_in(ta, time_machine, monkeypatch):
    key = key_of(begin_second_step(person=ta))
    monkeypatch.setattr("workups.services.second_step.secrets.token_hex", lambda _size: "")
    codes = confirm_second_step(person=ta, code=code_of(key))
    assert step_of(ta).recovery_salt == ""
    check_code(person=ta, code=codes[0])
