"""From what was looked up to a substance that an exercise brings along."""

import re
from collections.abc import Container
from dataclasses import replace
from itertools import count

from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import PROPERTIES, Substance
from workups.chemistry.tables import tables

from .found import Found, to_substance
from .structure import NotAStructureError, read_structure
from .substance import missing_values

LONGEST_KEY = 40


def own_substance(found: Found, taken: Container[str]) -> Substance:
    """A substance outside the tables with everything known of it, ready for an exercise.

    Each value keeps its uncertainty, grade and note, an estimate too, so that it widens the band;
    its source is written out. A group that gives off or takes up a proton puts it in the class
    ``ionisable``, which asks for a pKa. ``taken`` are keys that are in use.
    """
    substance = to_substance(found, free_key(found.name, taken))
    extra = frozenset({"ionisable"}) if found.ionisable else frozenset()
    antoine = found.antoine
    return replace(
        substance,
        source=_cited(substance.source),
        classes=(substance.classes | extra) - {"solvent"},
        values={k: _with_source(q) for k, q in substance.values.items() if k in PROPERTIES},
        partition={k: _with_source(q) for k, q in substance.partition.items()},
        antoine=antoine and replace(antoine, source=_cited(antoine.source)),
    )


def free_key(name: str, taken: Container[str]) -> str:
    """A key made of a name, with a number where that one is in use.

    >>> free_key("4-Fluorobenzoic acid", {"4_fluorobenzoic_acid"})
    '4_fluorobenzoic_acid_2'
    """
    words = re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_")[:LONGEST_KEY] or "own"
    return next(k for n in count(1) if (k := words if n == 1 else f"{words}_{n}") not in taken)


def still_to_say(substance: Substance) -> tuple[str, ...]:
    """What an author has to add before the numbers can be trusted, in words."""
    try:
        structure = read_structure(substance.smiles)
    except NotAStructureError:
        return ("structure in SMILES notation",)
    asked = missing_values(substance.values, structure, substance.antoine)
    hazards = () if substance.hazards else ("hazard statements, from the safety data sheet",)
    return (*asked, *hazards)


def _cited(source: str) -> str:
    return tables().sources.get(source, source)


def _with_source(quantity: Quantity) -> Quantity:
    return replace(quantity, source=_cited(quantity.source))
