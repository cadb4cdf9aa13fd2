"""`end_sessions` signs one person out on every device, or everybody."""

import pytest
from django.core.management import CommandError, call_command
from django.test import Client

from workups.models import AuditEntry, Session


@pytest.fixture
def devices(student, ta):
    """Two of the student's, one of the TA's."""
    clients = [Client(), Client(), Client()]
    for client, person in zip(clients, (student, student, ta), strict=True):
        client.force_login(person, backend="django.contrib.auth.backends.ModelBackend")
    return clients


def signed_in(devices):
    return [device.get("/me/").status_code == 200 for device in devices]


def test_one_person_is_signed_out_on_every_device(devices, student, capsys):
    call_command("end_sessions", " Stina.STUDENT")
    assert "Stina Student is signed out" in capsys.readouterr().out
    assert signed_in(devices) == [False, False, True]
    entry = AuditEntry.objects.get(action="sign-out-everywhere")
    assert (entry.actor, entry.object_id) == (None, str(student.public_id))


def test_everybody_is_signed_out_at_stations_too(devices, client):
    seat = client.session
    seat["station"] = {}
    seat.save()
    call_command("end_sessions", "--all")
    assert signed_in(devices) == [False, False, False]
    assert Session.objects.count() == 0
    assert AuditEntry.objects.get(action="sign-everybody-out").actor is None


@pytest.mark.parametrize("words", [["nobody"], [], ["stina.student", "--all"]])
def test_it_has_to_be_said_who(devices, words):
    with pytest.raises(CommandError):
        call_command("end_sessions", *words)
    assert signed_in(devices) == [True, True, True]
