"""The file of a backup: what the database's own tool wrote, compressed with a checksum.

Neither SQLite nor pg_restore notices every changed byte; the checksum does. The file is written
under another name first, so that it is whole or not there.
"""

import gzip
import os
import shutil
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

from django.db import connection

from workups.backups import postgresql, sqlite
from workups.backups.errors import BackupError, NotABackup


def back_up(path: Path) -> int:
    """Write the whole database into a file that only its owner may read; gives its bytes.

    Replaces a file of this name. Raises BackupError, and then leaves that file as it was.
    """
    try:
        # mkdtemp makes a folder of the owner's alone.
        with TemporaryDirectory(prefix=".backup-", dir=path.parent) as folder:
            copy, part = Path(folder) / "copy", Path(folder) / "part"
            way = _way()
            way.dump(copy)
            way.check(copy)
            handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "wb") as file:
                with copy.open("rb") as whole, gzip.GzipFile(fileobj=file, mode="wb") as packed:
                    shutil.copyfileobj(whole, packed)
                file.flush()
                os.fsync(file.fileno())
            part.replace(path)
        return path.stat().st_size
    except OSError as problem:
        raise BackupError(f"{path} cannot be written: {problem.strerror}.") from problem


def restore(path: Path) -> None:
    """Put a backup in the place of everything in the database, all or nothing."""
    if not path.is_file():
        raise BackupError(f"{path} is not there or is not a file.")
    with _unpacked(path) as copy:
        way = _way()
        try:
            way.check(copy)
        except NotABackup as problem:
            raise NotABackup(f"{path} is no backup of this kind of database: {problem}") from (
                problem
            )
        connection.close()
        way.load(copy)


def _way() -> ModuleType:
    """The functions `dump`, `check` and `load` for the database in use."""
    ways = {"sqlite": sqlite, "postgresql": postgresql}
    if connection.vendor not in ways:
        raise BackupError(f"Backups of {connection.vendor} are not supported.")
    return ways[connection.vendor]


@contextmanager
def _unpacked(path: Path) -> Iterator[Path]:
    """What the database's tool wrote, in a folder that is removed afterwards."""
    with TemporaryDirectory() as folder:
        copy = Path(folder) / "copy"
        try:
            with gzip.open(path, "rb") as packed, copy.open("wb") as whole:
                shutil.copyfileobj(packed, whole)
        except (gzip.BadGzipFile, EOFError, zlib.error) as problem:
            raise NotABackup(f"{path} is damaged or no backup: {problem}.") from problem
        except OSError as problem:
            raise BackupError(f"{path} cannot be read: {problem.strerror}.") from problem
        yield copy
