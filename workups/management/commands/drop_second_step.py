"""For somebody who has lost both the authenticator and the recovery codes."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import Person, normalise_sign_in
from workups.services.second_step import drop_second_step, find_second_step


class Command(BaseCommand):
    """``python manage.py drop_second_step NAME``: the password alone signs in again."""

    help = "Turns the second step of sign-in off for a person, once you know it is they who ask."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sign_in", metavar="NAME", help="The person's sign-in name.")

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(sign_in=normalise_sign_in(options["sign_in"])).first()
        if person is None:
            raise CommandError(f"Nobody signs in as {options['sign_in']}.")
        if find_second_step(person) is None:
            raise CommandError(f"{person} has no second step.")
        drop_second_step(actor=None, person=person)
        self.stdout.write(f"{person} signs in by password alone now.")
