"""Puts a backup in the place of everything in the database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from workups.backups import BackupError, restore
from workups.models import Person, Session


class Command(BaseCommand):
    help = ("Puts FILE, written by the backup command, in the place of everything in the "
            "database. All or nothing: a damaged file changes nothing.")
    # The database may be empty.
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path)
        parser.add_argument("--force", action="store_true",
                            help="replace what is in the database")

    def handle(self, *_args: Any, **options: Any) -> None:
        if holds_people() and not options["force"]:
            raise CommandError("The database is in use: it has people in it. --force replaces "
                               "everything in it; make a backup of it first.")
        try:
            restore(options["file"])
        except BackupError as problem:
            raise CommandError(str(problem)) from problem
        end_all_sessions()
        self.stdout.write(f"{options['file']} is restored. Everybody is signed out.")
        remark = remark_on_version()
        if remark:
            self.stdout.write(remark)


def end_all_sessions() -> None:
    """Those in the copy may have been ended since it was made. By the table alone, which may be
    that of an older version."""
    table = Session._meta.db_table
    if table in connection.introspection.table_names():
        with connection.cursor() as cursor:
            cursor.execute(f'DELETE FROM "{table}"')  # noqa: S608


def holds_people() -> bool:
    tables = connection.introspection.table_names()
    return Person._meta.db_table in tables and Person.objects.exists()


def remark_on_version() -> str:
    """What to do where the backup was made by another version of the program; else empty."""
    executor = MigrationExecutor(connection)
    if set(executor.loader.applied_migrations) - set(executor.loader.disk_migrations or {}):
        return "It was made by a newer version of Labcourse: install that one before you start it."
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return "It was made by an older version of Labcourse: now run the migrate command."
    return ""
