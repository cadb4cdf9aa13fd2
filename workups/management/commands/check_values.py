"""Prints our numbers beside numbers from outside."""

import json
import textwrap
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from workups.chemistry.reference_cases import ReferenceCase, reference_cases

WIDTHS = (58, 10, 10, 10, 10)
SOURCE_WIDTH = 100


class Command(BaseCommand):
    help = ("Prints a table: quantity, our value, the value from outside, the difference, the "
            "tolerance, and the source. Fails if a difference is outside its tolerance.")
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print JSON instead of a table")

    def handle(self, *_args: Any, **options: Any) -> None:
        cases = reference_cases()
        if options["json"]:
            self.stdout.write(json.dumps([_record(case) for case in cases], indent=2))
        else:
            self.stdout.write("\n".join(_table(cases)))
        off = [case.name for case in cases if not case.agrees()]
        if off:
            raise CommandError(f"outside the tolerance: {'; '.join(off)}")


def _record(case: ReferenceCase) -> dict[str, Any]:
    return {"subject": case.subject, "quantity": case.quantity, "unit": case.unit,
            "ours": case.ours(), "outside": case.outside, "difference": case.difference(),
            "tolerance": case.tolerance, "agrees": case.agrees(), "source": case.source,
            "note": case.note}


def _table(cases: tuple[ReferenceCase, ...]) -> Iterator[str]:
    yield _line("quantity", "ours", "outside", "difference", "tolerance")
    subject = ""
    for case in cases:
        if case.subject != subject:
            subject = case.subject
            yield f"\n{subject}"
        unit = "" if case.unit == "1" else f" [{case.unit}]"
        mark = "" if case.agrees() else "  <-- off"
        yield _line(f"  {case.quantity}{unit}", f"{case.ours():.6g}", f"{case.outside:.6g}",
                    f"{case.difference():+.1e}", f"{case.tolerance:.1e}") + mark
        about = f"{case.source}. {case.note}" if case.note else case.source
        yield textwrap.fill(about, SOURCE_WIDTH, initial_indent="      ",
                            subsequent_indent="      ")
    yield f"\n{len(cases)} comparisons, {sum(c.agrees() for c in cases)} within the tolerance"


def _line(*cells: str) -> str:
    first, *rest = cells
    numbers = (cell.rjust(width) for cell, width in zip(rest, WIDTHS[1:], strict=True))
    return f"{first:<{WIDTHS[0]}}{' '.join(numbers)}"
