"""How likely each explanation of a mass is beforehand: a field for each, empty for the usual."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

from workups.chemistry.fields import Declared
from workups.documents.errors import Path
from workups.grading.slips import OTHER, RECORDING, SLIPS, TECHNIQUE
from workups.web.authoring.form.asked import Asked, entry_at
from workups.web.authoring.form.texts import number_text

KINDS: Mapping[str, str] = {
    OTHER: "Nothing wrong, or nothing that is listed",
    TECHNIQUE: "What may have happened at the bench",
    RECORDING: "What may have happened on paper",
}


def prior_groups() -> Iterator[tuple[str, Path, tuple[Asked, ...]]]:
    """The explanations by kind, each group with its title and place."""
    for kind, title in KINDS.items():
        keys = [key for key, slip in SLIPS.items() if slip.kind == kind]
        yield title, ("priors", kind), tuple(map(_asked, keys))


def _asked(key: str) -> Asked:
    slip, path = SLIPS[key], ("priors", key)
    help_ = f"usual weight {number_text(slip.prior)}: {slip.reason}"
    entry = replace(entry_at(path), spec=Declared(help=help_))
    return Asked(path, entry, slip.title)
