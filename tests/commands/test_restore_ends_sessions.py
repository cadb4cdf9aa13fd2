"""A copy has sessions in it that were ended since it was made."""

import pytest
from django.contrib.auth import SESSION_KEY

from workups.management.commands import restore
from workups.models import Session


@pytest.mark.django_db
def test_a_restore_ends_every_session(client, student, monkeypatch, tmp_path, capsys):
    client.force_login(student)
    assert SESSION_KEY in client.session
    monkeypatch.setattr(restore, "restore", lambda _: None)
    restore.Command().handle(file=tmp_path / "copy", force=True)
    assert not Session.objects.exists()
    assert client.get("/me/").status_code == 302
    assert "Everybody is signed out" in capsys.readouterr().out
