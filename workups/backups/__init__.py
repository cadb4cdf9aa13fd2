"""Copies of the whole database, made and put back while the program runs.

A copy is one state of the database, made by the database's own tool (``sqlite``, ``postgresql``),
compressed and with a checksum (``files``). Putting one back is all or nothing. A copy of an older
version goes into a newer program and is brought up to date by its migrations; ``.ci/long`` tries
that on both databases.
"""

from workups.backups.errors import BackupError, NotABackup, ProgramMissing
from workups.backups.files import back_up, restore

__all__ = ["BackupError", "NotABackup", "ProgramMissing", "back_up", "restore"]
