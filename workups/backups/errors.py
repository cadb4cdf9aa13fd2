class BackupError(Exception):
    """A backup or restore that did not happen; nothing was changed."""


class NotABackup(BackupError):
    """The file is damaged, or of another kind."""


class ProgramMissing(BackupError):
    """PostgreSQL's own programs are needed and not installed."""
