"""SQLite: the copy is an SQLite file, made by SQLite's own online backup.

It is one state of the database: a writer that commits meanwhile makes the copying start again or
waits. Putting a copy back is one transaction of the database that is restored.
"""

import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from django.conf import settings

from workups.backups.errors import BackupError, NotABackup

WAIT_SECONDS = 60


def dump(path: Path) -> None:
    """Copy the database in use into a new file."""
    try:
        with closing(_open(_own_file(), "ro")) as source, closing(_open(path, "rwc")) as copy:
            source.backup(copy)
            # One file: no log beside it.
            copy.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.Error as problem:
        raise BackupError(f"The backup failed: {problem}.") from problem


def check(path: Path) -> None:
    """Raise NotABackup unless the file is a sound database of ours."""
    try:
        with closing(_open(path, "ro")) as copy:
            (verdict,) = copy.execute("PRAGMA integrity_check").fetchone()
            applied = copy.execute(
                "SELECT count(*) FROM django_migrations WHERE app = 'workups'"
            ).fetchone()[0]
    except sqlite3.Error as problem:
        raise NotABackup(f"{problem}.") from problem
    if verdict != "ok" or not applied:
        raise NotABackup("it is damaged or of another program.")


def load(path: Path) -> None:
    """Replace everything in the database in use by the file's content, in one transaction."""
    try:
        with closing(_open(path, "ro")) as copy, closing(_open(_own_file(), "rwc")) as target:
            target.execute("PRAGMA synchronous=FULL")
            copy.backup(target)
            target.execute("PRAGMA journal_mode=WAL")
    except sqlite3.Error as problem:
        raise BackupError(f"Nothing was restored: {problem}.") from problem


def _own_file() -> Path:
    return Path(settings.DATABASES["default"]["NAME"])


def _open(path: Path, mode: str) -> sqlite3.Connection:
    address = f"file:{quote(str(path.absolute()))}?mode={mode}"
    return sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS)
