"""Locks bench records whose date has passed and assesses their reports; for a timer."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import Assignment
from workups.selectors.progress import assignments_with_open_records
from workups.services.reports import lock_overdue


class Command(BaseCommand):
    help = ("Locks the bench records whose date has passed, assesses the reports and puts them "
            "in the queue for review. Safe to run at any time, and again.")

    def handle(self, *_args: Any, **_options: Any) -> None:
        failed = []
        for assignment in assignments_with_open_records():
            try:
                self._lock(assignment)
            except Exception as problem:  # one section's trouble must not stop the others
                failed.append(f"{assignment}: {problem}")
        if failed:
            raise CommandError("Not everything could be assessed. " + "; ".join(failed))

    def _lock(self, assignment: Assignment) -> None:
        locked = lock_overdue(assignment=assignment)
        if locked:
            records = "record" if len(locked) == 1 else "records"
            self.stdout.write(f"{assignment}: {len(locked)} {records} locked and assessed")
