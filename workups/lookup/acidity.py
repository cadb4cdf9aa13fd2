"""pKa of a substance that no table of ours holds, by the class of each acidic or basic group.

Each group that gives off or takes up a proton (``structure.IONISABLE``) is put in the first class
of ``acidity_classes.csv`` whose pattern begins at its atom: a pKa and a standard uncertainty,
which says how far members of the class lie apart. A further group of the same kind is shifted by
what a charge nearby does to it (``next``), with an uncertainty of at least 1.5.

The pKa and the bands are from memory of handbook values (grade B). They were held against the
values read for the tables afterwards: ``tests/lookup/test_acidity.py``. A larger open table, the
digitised IUPAC one, may not be used commercially, and is not shipped for that reason.

Not covered: more than three groups, zwitterions that hold their proton inside, hydrogen bonds
inside the molecule but for the commonest. There nothing is estimated and the author is asked.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from workups.chemistry.quantity import Quantity

from .structure import BASES, IONISABLE, first_atoms, molecule_of

FILE = Path(__file__).parent / "data" / "acidity_classes.csv"
MOST = 3
BY_CLASS = "estimate by class: "
ANOTHER_UNCERTAINTY = 1.5


@dataclass(frozen=True)
class AcidityClass:
    """A class of groups: pKa of the first one, its standard uncertainty, what a further one is
    shifted by, and what the class is called."""

    group: str
    smarts: str
    pKa: float
    uncertainty: float
    next: float
    source: str
    grade: str
    name: str


@lru_cache(maxsize=1)
def acidity_classes() -> Mapping[str, tuple[AcidityClass, ...]]:
    """The classes of each group, the most special first; the last takes whatever is left."""
    found: dict[str, list[AcidityClass]] = {name: [] for name in IONISABLE}
    with FILE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            found[row["group"]].append(AcidityClass(
                row["group"], row["smarts"], float(row["pKa"]), float(row["uncertainty"]),
                float(row["next"]), row["source"], row["grade"], row["note"]))
    return {name: tuple(classes) for name, classes in found.items()}


def classes_of(smiles: str) -> tuple[AcidityClass, ...]:
    """The class of each group of a structure that gives off or takes up a proton.

    >>> [c.name for c in classes_of("OC(=O)c1ccccc1")]
    ['acid on an aromatic ring']
    """
    molecule = molecule_of(smiles)
    return tuple(
        next(c for c in acidity_classes()[group] if atom in first_atoms(molecule, c.smarts))
        for group, smarts in IONISABLE.items()
        for atom in first_atoms(molecule, smarts))


def estimated_pKa(smiles: str) -> dict[str, Quantity]:
    """pKa1, pKa2, pKa3 in rising order; empty for no group, and for more than three.

    >>> acid = estimated_pKa("OC(=O)c1ccc(F)cc1")["pKa1"]
    >>> acid.value, acid.uncertainty, acid.grade
    (4.0, 0.5, 'B')
    """
    classes = classes_of(smiles)
    if len(classes) > MOST:
        return {}
    rising = sorted(_one_by_one(classes), key=lambda q: q.value)
    return {f"pKa{n}": quantity for n, quantity in enumerate(rising, 1)}


def _one_by_one(classes: tuple[AcidityClass, ...]) -> Iterator[Quantity]:
    """The pKa of each group, in which those of one kind are aware of each other."""
    before: Counter[str] = Counter()
    acids_first = sorted(classes, key=lambda c: -c.pKa if c.group in BASES else c.pKa)
    for one in acids_first:
        kind = "base" if one.group in BASES else one.group
        count = before[kind]
        before[kind] += 1
        yield Quantity(
            round(one.pKa + count * one.next, 1), "1",
            max(one.uncertainty, ANOTHER_UNCERTAINTY) if count else one.uncertainty,
            one.source, one.grade, f"{BY_CLASS}{one.name}")
