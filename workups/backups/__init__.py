"""Copies of the whole database, made and put back while the program runs."""

from workups.backups.errors import BackupError, NotABackup, ProgramMissing
from workups.backups.files import back_up, restore

__all__ = ["BackupError", "NotABackup", "ProgramMissing", "back_up", "restore"]
