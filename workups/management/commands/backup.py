"""Writes the whole database into one file, while the program runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.backups import BackupError, back_up


class Command(BaseCommand):
    help = ("Writes the whole database into FILE, as one state, while the program runs. The file "
            "holds everything about everybody: keep it where nobody else can read it.")

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path)
        parser.add_argument("--force", action="store_true", help="replace FILE if it is there")

    def handle(self, *_args: Any, **options: Any) -> None:
        path: Path = options["file"]
        if path.exists() and not options["force"]:
            raise CommandError(f"{path} is there already; --force replaces it.")
        try:
            size = back_up(path)
        except BackupError as problem:
            raise CommandError(str(problem)) from problem
        self.stdout.write(f"{path}: {size:,} bytes")
