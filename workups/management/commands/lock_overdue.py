"""Locks bench records whose date has passed and assesses their reports; for a timer."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import Assignment, Work
from workups.selectors.progress import assignments_to_bring_in
from workups.services.reports import assess_left_over, lock_overdue


class Command(BaseCommand):
    help = ("Locks the bench records whose date has passed, assesses the reports and puts them "
            "in the queue for review. Safe to run at any time, and again.")

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--again",
            action="store_true",
            help="also assess what could not be assessed before, once its cause is mended",
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        failed = []
        self.again: bool = options["again"]
        of_open_courses = assignments_to_bring_in(failed_too=self.again).filter(
            revision__course__archived_at__isnull=True
        )
        for assignment in of_open_courses:
            try:
                failed += self._lock(assignment)
            except Exception as problem:  # one section's trouble must not stop the others
                failed.append(f"{assignment}: {problem}")
        if failed:
            raise CommandError("Not everything could be assessed. " + "; ".join(failed))

    def _lock(self, assignment: Assignment) -> list[str]:
        """What could not be assessed of what was brought in, each with its reason."""
        locked = lock_overdue(assignment=assignment)
        if locked:
            records = "record" if len(locked) == 1 else "records"
            self.stdout.write(f"{assignment}: {len(locked)} {records} locked and assessed")
        left_over = assess_left_over(assignment=assignment, failed_too=self.again)
        if left_over:
            reports = "report" if len(left_over) == 1 else "reports"
            self.stdout.write(f"{assignment}: {len(left_over)} {reports} assessed late")
        works = [*left_over, *Work.objects.filter(bench_record__in=locked)]
        return [
            f"{assignment}, bench code {work.bench_code}: {work.hand_in_problem}"
            for work in works
            if work.cannot_be_carried_out
        ]
