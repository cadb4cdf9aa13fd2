"""After SECRET_KEY was replaced: the keys of second steps no longer need the one before."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.models import SecondStep
from workups.services.second_step import KeyIsLost, seal_key_anew


class Command(BaseCommand):
    """``python manage.py reseal_keys``: with the old secret still in SECRET_KEY_FALLBACKS."""

    help = "Seals the keys of second steps with SECRET_KEY as it is now. Safe to run again."

    def handle(self, *args: Any, **options: Any) -> None:
        steps = SecondStep.objects.select_related("person").order_by("person__sign_in")
        lost = []
        for step in steps:
            try:
                seal_key_anew(step=step)
            except KeyIsLost:
                lost.append(step.person.sign_in)
        self.stdout.write(f"Keys sealed: {len(steps) - len(lost)}.")
        if lost:
            raise CommandError(
                "These keys can no longer be read; recovery codes still work, or "
                f"`manage.py drop_second_step NAME`: {', '.join(lost)}."
            )
