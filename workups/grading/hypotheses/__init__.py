"""The explanations a mass can have, one topic a file, and how likely a record is under each."""

from collections.abc import Mapping

from ..slips import NOTHING_WRONG
from . import agent, extraction, leftovers, recording
from .ways import Bench, Maker, Way

MAKERS: Mapping[str, Maker] = {
    NOTHING_WRONG: lambda bench: iter((Way(bench.sample),)),
    **extraction.MAKERS,
    **agent.MAKERS,
    **leftovers.MAKERS,
    **recording.MAKERS,
}


def all_ways(bench: Bench) -> Mapping[str, tuple[Way, ...]]:
    """The ways of each explanation that can be, by key; those that cannot be are left out."""
    found = {key: tuple(make(bench)) for key, make in MAKERS.items()}
    return {key: ways for key, ways in found.items() if ways}
