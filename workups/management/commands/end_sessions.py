"""For a device that was lost, or when somebody may have got into the server."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import Person, normalise_sign_in
from workups.services.accounts import sign_everybody_out, sign_out_everywhere


class Command(BaseCommand):
    """``python manage.py end_sessions NAME`` or ``--all``: who it is signs in again."""

    help = "Signs a person out on every device, or with --all everybody, stations included."

    def add_arguments(self, parser: ArgumentParser) -> None:
        who = parser.add_mutually_exclusive_group(required=True)
        who.add_argument("sign_in", metavar="NAME", nargs="?", help="The person's sign-in name.")
        who.add_argument("--all", action="store_true", help="Everybody.")

    def handle(self, *args: Any, **options: Any) -> None:
        if options["all"]:
            sign_everybody_out()
            self.stdout.write("Everybody is signed out.")
            return
        person = Person.objects.filter(sign_in=normalise_sign_in(options["sign_in"])).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {options['sign_in']}.")
        sign_out_everywhere(actor=None, person=person)
        self.stdout.write(f"{person} is signed out on every device.")
