"""Makes the invented demo course and serves it on this machine alone."""

import signal
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from workups.demo.build import PASSWORD, demo_course, fill_demo, open_demo
from workups.demo.people import INSTRUCTOR, PER_SECTION, SECTIONS, STOCKROOM, TAS
from workups.models import Course, Enrolment, Role


class Command(BaseCommand):
    """``python manage.py demo``: a second call changes nothing and serves again."""

    help = "Makes the invented demo course, prints the sign-ins and serves it on loopback."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000, help="Port on 127.0.0.1.")
        parser.add_argument(
            "--students",
            type=int,
            default=PER_SECTION,
            metavar="N",
            help="Students in each section, 1 to 24.",
        )
        parser.add_argument("--no-serve", action="store_true", help="Make the course and stop.")

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.IN_PRODUCTION:
            raise CommandError("The demo course is for this machine alone, not for production.")
        if not 1 <= options["port"] <= 65535:
            raise CommandError("The port is a number from 1 to 65535.")
        if not 1 <= options["students"] <= 24:
            raise CommandError("There are 1 to 24 students in a section.")
        call_command("migrate", interactive=False, verbosity=0)
        course = self._opened(options["students"])
        if options["no_serve"]:
            self._fill(course)
        self._print_sign_ins(options["port"])
        self.stdout.flush()
        if not options["no_serve"]:
            with filling_beside(course):
                call_command("runserver", f"127.0.0.1:{options['port']}", use_reloader=False)

    def _opened(self, per_section: int) -> Course:
        course = demo_course()
        if course is None:
            self.stdout.write("Making the demo course.")
            with transaction.atomic():
                course = open_demo(per_section)
        elif not course.filling:
            self.stdout.write("The demo course is there already; nothing was changed.")
        return course

    def _fill(self, course: Course) -> None:
        if course.filling:
            self.stdout.write("Simulating the students takes a minute or two.")
            fill_demo(course, self._say)

    def _say(self, line: str) -> None:
        self.stdout.write(f"  {line} …")
        self.stdout.flush()

    def _print_sign_ins(self, port: int) -> None:
        line = self.stdout.write
        line(f"\nLabcourse demo: http://127.0.0.1:{port}/")
        line(f"All passwords: {PASSWORD}\n")
        line(f"  instructor   {INSTRUCTOR.sign_in:<12} {INSTRUCTOR.name}")
        names = [name for name, _ in SECTIONS]
        for ta, taught in zip(TAS, (names[:2], names[2:]), strict=True):
            line(f"  TA           {ta.sign_in:<12} {ta.name}, sections {' and '.join(taught)}")
        line(f"  stockroom    {STOCKROOM.sign_in:<12} {STOCKROOM.name}")
        for name in names:
            group = list(_students_of(name))
            line(f"  students     {group[0]} to {group[-1]}, section {name}")
        line("")


@contextmanager
def filling_beside(course: Course) -> Iterator[None]:
    """While the course is served, a process of its own lets the students do what they have not done
    yet; it ends with the server, or when all is done, and the next call goes on where it stopped.
    """
    if not course.filling:
        yield
        return
    # A server that is ended from outside ends the other process as one at a keyboard does.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    # This very command; nothing else goes into it.
    beside = subprocess.Popen(  # noqa: S603
        [sys.executable, str(settings.BASE_DIR / "manage.py"), "demo", "--no-serve"],
        stdout=subprocess.DEVNULL)
    try:
        yield
    finally:
        beside.terminate()
        beside.wait()


def _students_of(section: str) -> Iterator[str]:
    """Sign-in names of a section's students, in order."""
    enrolled = Enrolment.objects.filter(
        course=demo_course(), role=Role.STUDENT, section__name=section
    )
    yield from enrolled.order_by("person__sign_in").values_list("person__sign_in", flat=True)
