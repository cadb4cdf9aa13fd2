"""`backup` and `restore` in processes of their own: all rows come back, or nothing changes."""

import gzip
import json
import os
import sqlite3
import stat
import subprocess
import sys
import time
from contextlib import closing
from uuid import uuid4

import psycopg
import pytest
from django.conf import settings

from tests.crash.conftest import ON_POSTGRESQL, PREPARE, READ_BACK
from tests.crash.prepare import FIRST_PLAN
from tests.crash.server import ROOT, Server, manage
from tests.crash.writer import Browser, Writer, plan_sender
from tests.long import IS_LONG

SIGN_IN_AGAIN = """
import json
from tests.crash.prepare import client_of
from workups.models import Work
work = Work.objects.get(enrolment__person__sign_in="planner")
print(json.dumps(client_of(work.student, work)))
"""
LONG = pytest.mark.skipif(not IS_LONG, reason="ten seconds of migrations; in .ci/long")
FORGE = """
from django.db import IntegrityError
from workups.models import AuditEntry
try:
    AuditEntry._base_manager.update(action="forged")
except IntegrityError as problem:
    print(problem)
"""


@pytest.fixture(scope="module")
def new_database(tmp_path_factory):
    """The environment of an installation with a database of its own, empty."""
    made = []

    def make():
        folder = tmp_path_factory.mktemp(uuid4().hex)
        url = f"sqlite:///{folder / 'labcourse.sqlite3'}"
        if ON_POSTGRESQL:
            made.append(f"backup_{folder.name}")
            on_server(f'CREATE DATABASE "{made[-1]}"')
            own = settings.DATABASES["default"]
            url = f"postgresql://{own['USER']}@{own['HOST']}:{own['PORT']}/{made[-1]}"
        return {"PATH": os.environ["PATH"], "LOCAL_DIR": str(folder), "DATABASE_URL": url}

    yield make
    for name in made:
        on_server(f'DROP DATABASE "{name}" WITH (FORCE)')


def on_server(command):
    own = settings.DATABASES["default"]
    where = {"host": own["HOST"], "port": own["PORT"], "user": own["USER"], "dbname": "postgres"}
    with psycopg.connect(**where, autocommit=True) as connection:
        connection.execute(command)


@pytest.fixture(scope="module")
def filled(new_database):
    """An installation with a course in it."""
    environment = new_database()
    manage(environment, "migrate", "-v", "0")
    clients = json.loads(manage(environment, "shell", "-v", "0", "-c", PREPARE))
    return environment, clients


def refused(environment, *arguments):
    """The one line with which a command fails."""
    done = subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("CommandError: ")
    assert "Traceback" not in done.stderr
    return done.stderr.removeprefix("CommandError: ")


def all_rows(environment):
    """Every row of every table of the program, by table and key."""
    rows = json.loads(manage(environment, "dumpdata"))
    assert len({row["model"] for row in rows}) > 12
    return sorted(rows, key=lambda row: (row["model"], str(row["pk"])))


def test_a_restored_backup_has_every_row(filled, new_database, tmp_path):
    environment, _ = filled
    file = tmp_path / "kept"
    assert "bytes" in manage(environment, "backup", str(file))
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    other = new_database()
    said = manage(other, "restore", str(file))
    assert said == f"{file} is restored. Everybody is signed out.\n"
    sessions = "workups.session"
    kept = [row for row in all_rows(environment) if row["model"] != sessions]
    assert all_rows(other) == kept
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith(".")] == []
    assert "--force replaces it" in refused(environment, "backup", str(file))
    assert "it has people in it" in refused(other, "restore", str(file))


def test_a_backup_of_a_running_server_is_one_state_of_it(filled, new_database, tmp_path):
    """While plans are saved: all that was acknowledged before is in it, and no half of the rest.

    Then it is put back under the running server, which goes on with what was restored, for
    whoever signs in again.
    """
    environment, clients = filled
    file, plan = tmp_path / "kept", clients["plan"]
    server = Server(environment, tmp_path / "server.log")
    try:
        server.start()
        browser = Browser(server.port, plan["session"])
        writer = Writer(40, plan_sender(browser, plan["work"]), time.monotonic() + 80)
        writer.start()
        while len(writer.kept) < 3 and writer.is_alive():
            time.sleep(0.02)
        before = list(writer.kept)
        manage(environment, "backup", str(file))
        writer.join(80)
        assert len(writer.kept) == 40
        manage(environment, "restore", "--force", str(file))
        assert not browser.get(f"/work/{plan['work']}/plan/?step=s1")
        again = json.loads(manage(environment, "shell", "-v", "0", "-c", SIGN_IN_AGAIN))
        page = Browser(server.port, again["session"]).get(f"/work/{plan['work']}/plan/?step=s1")
    finally:
        server.kill()
    texts = json.loads(manage(environment, "shell", "-v", "0", "-c", READ_BACK))["texts"]
    in_order = [FIRST_PLAN["steps"][0]["text"], *writer.kept]
    assert texts == in_order[: len(texts)]
    assert len(texts) > len(before)
    assert texts[-1] in page


def test_what_is_damaged_or_no_backup_is_refused_and_changes_nothing(filled, tmp_path):
    environment, _ = filled
    file = tmp_path / "kept"
    manage(environment, "backup", str(file))
    before, whole = all_rows(environment), file.read_bytes()
    for damaged in damages(whole):
        file.write_bytes(damaged)
        message = refused(environment, "restore", "--force", str(file))
        assert "damaged" in message or "no backup" in message
        assert str(file) in message
    file.unlink()
    assert "is not there" in refused(environment, "restore", "--force", str(file))
    assert all_rows(environment) == before


def damages(whole):
    """A backup cut short, one bit of it turned, and files of another kind."""
    middle = len(whole) // 2
    one_bit = bytes([whole[middle] ^ 4])
    yield whole[:middle]
    yield whole[:middle] + one_bit + whole[middle + 1 :]
    yield b"A letter to the department."
    yield b""
    if not ON_POSTGRESQL:
        with closing(sqlite3.connect(":memory:")) as other:
            other.execute("CREATE TABLE note (text)")
            yield gzip.compress(other.serialize())


def test_a_backup_that_cannot_be_written_says_so(filled, tmp_path):
    file = tmp_path / "gone" / "kept"
    assert "cannot be written" in refused(filled[0], "backup", str(file))
    assert list(tmp_path.iterdir()) == []


def test_without_postgresqls_programs_it_is_said_what_to_install(filled, tmp_path):
    environment, _ = filled
    bare = {**environment, "PATH": str(tmp_path)}
    if ON_POSTGRESQL:
        message = refused(bare, "backup", str(tmp_path / "kept"))
        assert "pg_dump is not installed" in message
        assert "postgresql-client" in message
    else:
        assert "bytes" in manage(bare, "backup", str(tmp_path / "kept"))


@LONG
def test_an_older_backup_goes_into_a_newer_program_and_is_brought_up_to_date(
    new_database, tmp_path
):
    """Tables that came since the backup are in nobody's way, neither at once nor when migrated."""
    environment, file = new_database(), tmp_path / "kept"
    manage(environment, "migrate", "-v", "0", "workups", "0011")
    manage(environment, "migrate", "-v", "0", "sessions")
    manage(environment, "backup", str(file))
    manage(environment, "migrate", "-v", "0")
    json.loads(manage(environment, "shell", "-v", "0", "-c", PREPARE))
    told = manage(environment, "restore", "--force", str(file))
    assert "made by an older version" in told
    manage(environment, "migrate", "-v", "0")
    assert "workups.person" not in manage(environment, "dumpdata")
    json.loads(manage(environment, "shell", "-v", "0", "-c", PREPARE))
    assert "only ever added" in manage(environment, "shell", "-v", "0", "-c", FORGE)
