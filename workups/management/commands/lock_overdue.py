"""Locks bench records whose date has passed and assesses their reports; for a timer."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import Assignment
from workups.selectors.progress import assignments_to_bring_in
from workups.services.reports import assess_left_over, lock_overdue


class Command(BaseCommand):
    help = ("Locks the bench records whose date has passed, assesses the reports and puts them "
            "in the queue for review. Safe to run at any time, and again.")

    def handle(self, *_args: Any, **_options: Any) -> None:
        failed = []
        of_open_courses = assignments_to_bring_in().filter(
            revision__course__archived_at__isnull=True
        )
        for assignment in of_open_courses:
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
        left_over = assess_left_over(assignment=assignment)
        if left_over:
            reports = "report" if len(left_over) == 1 else "reports"
            self.stdout.write(f"{assignment}: {len(left_over)} {reports} assessed late")
