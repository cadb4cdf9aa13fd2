"""One step at a time: which step of the bench page is shown, and which lie before and after it.

The place is in the address (``?step=``), so that links lead back and on without a script. The page
holds every step; ``static/js/bench_steps.js`` shows another of them without asking the server.
"""

from collections.abc import Sequence
from dataclasses import replace
from urllib.parse import urlencode

from django.urls import reverse

from workups.models import Work
from workups.selectors.bench_lines import BenchLine

REST = "rest"  # the place after the last step: weighings, amounts, the lock


def place_of(asked: str, lines: Sequence[BenchLine]) -> str:
    """The place asked for; else the next step, and after the last one the rest."""
    if asked == REST or any(line.id == asked for line in lines):
        return asked
    return next((line.id for line in lines if line.is_next), REST)


def place_after(step_id: str, lines: Sequence[BenchLine]) -> str:
    """Where one goes on after a step was marked: the next one after it that has no mark."""
    at = next((i for i, line in enumerate(lines) if line.id == step_id), -1)
    ahead = next((line.id for line in lines[at + 1 :] if not line.mark), "")
    return ahead or place_of("", lines)


def with_neighbours(lines: Sequence[BenchLine]) -> list[BenchLine]:
    """The same lines, each with the places before and after it."""
    ids = ["", *(line.id for line in lines), REST]
    return [
        replace(line, back=back, ahead=ahead)
        for line, back, ahead in zip(lines, ids, ids[2:], strict=False)
    ]


def bench_address(work: Work, anchor: str = "") -> str:
    """The bench page where an anchor of it is to be seen."""
    url = reverse("show-bench", args=[work.public_id])
    if not anchor:
        return url
    place = anchor.removeprefix("step-") if anchor.startswith("step-") else REST
    return f"{url}?{urlencode({'step': place})}#{anchor}"
