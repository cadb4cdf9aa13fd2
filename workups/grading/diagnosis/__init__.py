"""The explanations a mass can have, one topic a file, and how likely a record is under each.

``extraction``, ``agent``, ``leftovers`` and ``recording`` make the ways in which the work may have
gone or a reading been written; ``weighing``, ``witnesses``, ``drying_marks`` and ``densities`` say
how well a record fits what would then be in the flask; ``judging`` multiplies, ``evidence`` puts
into words whatever moved an explanation, ``ranking`` ranks what comes of it.

A new explanation has its title, prior and question in ``grading/data/slips.toml`` (the author form
asks for the prior from there), its way of coming about in a ``MAKERS`` of this folder, and, for the
calibration, how invented students do it (``workups/invented_students``, which may not use this
folder).

Priors and usual sizes are common practice, and the invented students are drawn from the same list.
So good figures on them say that the diagnosis adds up, and not that it is right about real classes:
``python -m tests.bench.diagnosis`` prints beside those figures the ones of students of other
habits, and ``tests/bench/MEASURED.md`` has the last.
"""

from collections.abc import Mapping

from ..slips import NOTHING_WRONG
from . import agent, extraction, leftovers, recording
from .scenarios import Bench, Maker, Scenario

MAKERS: Mapping[str, Maker] = {
    NOTHING_WRONG: lambda bench: iter((Scenario(bench.sample),)),
    **extraction.MAKERS,
    **agent.MAKERS,
    **leftovers.MAKERS,
    **recording.MAKERS,
}


def all_scenarios(bench: Bench) -> Mapping[str, tuple[Scenario, ...]]:
    """The ways of each explanation that can be, by key; those that cannot be are left out."""
    found = {key: tuple(make(bench)) for key, make in MAKERS.items()}
    return {key: ways for key, ways in found.items() if ways}
