"""PostgreSQL: the copy is an archive of pg_dump (custom format).

pg_dump reads one state of the database while others write. What pg_restore makes of the archive
is put back by psql in a single transaction: whatever fails, nothing is changed.
"""

import os
import shutil
import subprocess
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from workups.backups.errors import BackupError, NotABackup, ProgramMissing

MAGIC = b"PGDMP"
LONGEST_SECONDS = 3600


def dump(path: Path) -> None:
    """Write an archive of the database in use."""
    form = ("--format=custom", "--compress=0", "--no-owner", "--no-privileges")
    done = _run("pg_dump", *form, f"--file={path}")
    if done.returncode:
        raise BackupError(f"The backup failed: {_last_line(done)}")


def check(path: Path) -> None:
    """Raise NotABackup unless pg_restore can read the archive to its end and it is one of ours."""
    with path.open("rb") as file:
        if file.read(len(MAGIC)) != MAGIC:
            raise NotABackup("no archive of a PostgreSQL database.")
    read = _run("pg_restore", f"--file={os.devnull}", str(path))
    listed = _run("pg_restore", "--list", str(path))
    if read.returncode or listed.returncode:
        raise NotABackup(_last_line(read) or _last_line(listed))
    if "django_migrations" not in listed.stdout or "workups_person" not in listed.stdout:
        raise NotABackup("it is of another program.")


def load(path: Path) -> None:
    """Replace the tables of the database in use by the archive's, in one transaction.

    All tables that this program has are dropped, also those that came since the backup was made
    and that the archive knows nothing of; other programs' tables in the same database stay.
    """
    before, script = path.with_suffix(".before.sql"), path.with_suffix(".sql")
    before.write_text(_drop_own_tables())
    form = ("--clean", "--if-exists", "--no-owner", "--no-privileges")
    written = _run("pg_restore", *form, f"--file={script}", str(path))
    if written.returncode:
        raise BackupError(f"Nothing was restored: {_last_line(written)}")
    done = _run(
        "psql",
        *("--no-psqlrc", "--quiet", "--single-transaction", "--set=ON_ERROR_STOP=1"),
        *("--output", os.devnull, f"--file={before}", f"--file={script}"),
    )
    if done.returncode:
        raise BackupError(f"Nothing was restored: {_last_line(done)}")


def _drop_own_tables() -> str:
    migrations = MigrationRecorder.Migration._meta.db_table
    tables = [*connection.introspection.django_table_names(), migrations]
    names = ", ".join(connection.ops.quote_name(name) for name in tables)
    return f"SET client_min_messages = warning; DROP TABLE IF EXISTS {names} CASCADE;\n"


def _run(program: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    found = shutil.which(program)
    if found is None:
        raise ProgramMissing(
            f"{program} is not installed. It comes with PostgreSQL's client programs "
            "(on Debian and Ubuntu: apt install postgresql-client)."
        )
    try:
        return subprocess.run(  # noqa: S603 (a program of PostgreSQL, arguments of our own)
            [found, *arguments],
            env=_environment(),
            capture_output=True,
            text=True,
            timeout=LONGEST_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired as problem:
        raise BackupError(f"{program} took more than {LONGEST_SECONDS} s.") from problem


def _environment() -> dict[str, str]:
    """Where the database is, as PostgreSQL's programs read it: no password on a command line."""
    database = settings.DATABASES["default"]
    named = {
        "PGHOST": database.get("HOST", ""),
        "PGPORT": database.get("PORT", ""),
        "PGUSER": database.get("USER", ""),
        "PGPASSWORD": database.get("PASSWORD", ""),
        "PGDATABASE": database["NAME"],
        "PGSSLMODE": database.get("OPTIONS", {}).get("sslmode", ""),
    }
    return {**os.environ, **{name: str(value) for name, value in named.items() if value}}


def _last_line(done: subprocess.CompletedProcess[str]) -> str:
    lines = done.stderr.strip().splitlines()
    return lines[-1] if lines else ""
