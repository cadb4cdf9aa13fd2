"""Partition coefficients from structure against measured ones, by solvent and by class.

``python -m tests.bench.partition`` prints the figures that stand in MEASURED.md (a second).

The measured values are those of grade A in the tables and those of ``measured_partition.csv``,
which stand in no table. No coefficient or fragment was fitted to either here; but the equations
themselves were fitted by their authors to data of the same kind, and the scatter that is stated was
set by the values of the tables, so that only the second set is held out from it.
"""

from __future__ import annotations

import csv
import math
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from workups.chemistry.quantity import Quantity
from workups.chemistry.tables import tables
from workups.lookup import Found, look_up
from workups.lookup.partition import estimated_partition
from workups.lookup.structure import count_matches, molecule_of

FILE = Path(__file__).parents[1] / "data" / "measured_partition.csv"
# The first that fits names the class: by what makes its partition hard to estimate.
CLASSES = {
    "carboxylic acid": "[CX3](=O)[OX2H1]", "phenol": "[OX2H1]c",
    "aliphatic amine": "[NX3;!$(Nc);!$(N~[C,S]=O);!$(N=*);!$(N~O)]",
    "aniline or pyridine": "[$([NX3]c),$([nX2;r6])]", "alcohol": "[OX2H1][CX4]",
    "amide": "[NX3][C,c]=O", "ester": "C(=O)[OX2H0]", "ketone": "[#6]C(=O)[#6]",
    "ether": "[OX2H0]([#6])[#6]", "halide": "[C][Cl,Br,I]", "aromatic": "c",
}


@dataclass(frozen=True)
class Compared:
    """A measured log10 K and its estimate; ``held_out``: not among those the scatter is set by."""

    name: str
    of_class: str
    solvent: str
    measured: float
    estimate: Quantity
    held_out: bool

    @property
    def error(self) -> float:
        return self.estimate.value - self.measured


def class_of(smiles: str) -> str:
    molecule = molecule_of(smiles)
    return next((name for name, s in CLASSES.items() if count_matches(molecule, s)), "other")


def compared() -> list[Compared]:
    """All of them."""
    return [*_of_tables(), *_held_out()]


def _of_tables() -> Iterator[Compared]:
    for substance in tables().substances.values():
        log_kow = substance.values.get("log_kow")
        if log_kow is None or log_kow.grade != "A" or "." in substance.smiles:
            continue
        estimates = estimated_partition(substance.smiles, log_kow)
        for solvent, measured in substance.partition.items():
            if measured.grade == "A" and solvent in estimates:
                yield Compared(substance.name, class_of(substance.smiles), solvent,
                               measured.value, estimates[solvent], held_out=False)


def _held_out() -> Iterator[Compared]:
    with FILE.open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    for row in rows:
        found = look_up(row["cas"])
        assert isinstance(found, Found), row
        estimate = estimated_partition(found.smiles, found.values["log_kow"])[row["solvent"]]
        yield Compared(row["name"], class_of(found.smiles), row["solvent"],
                       float(row["log10_K"]), estimate, held_out=True)


def mean(of: Iterable[Compared]) -> float:
    errors = [c.error for c in of]
    return sum(errors) / len(errors)


def rms(of: Iterable[Compared]) -> float:
    errors = [c.error for c in of]
    return math.sqrt(sum(e * e for e in errors) / len(errors))


def within_two(of: Iterable[Compared]) -> float:
    """Share within two stated standard uncertainties."""
    inside = [abs(c.error) <= 2 * c.estimate.uncertainty for c in of]
    return sum(inside) / len(inside)


def by(key: Callable[[Compared], str], of: Iterable[Compared]) -> dict[str, list[Compared]]:
    found: dict[str, list[Compared]] = {}
    for one in of:
        found.setdefault(key(one), []).append(one)
    return dict(sorted(found.items()))


def _line(name: str, of: list[Compared]) -> str:
    return (f"{name:22} n {len(of):4}  mean {mean(of):+.2f}  rms {rms(of):.2f}  "
            f"within two sigma {within_two(of):4.0%}")


def figures() -> Iterator[str]:
    """Lines of the table, and what is farthest off."""
    every = compared()
    yield _line("all", every)
    yield _line("held out", [c for c in every if c.held_out])
    for title, key in (("by class", lambda c: c.of_class), ("by solvent", lambda c: c.solvent)):
        yield f"\n{title}"
        yield from (_line(name, of) for name, of in by(key, every).items())
    yield "\nfarthest off"
    for c in sorted(every, key=lambda c: -abs(c.error))[:8]:
        yield f"{c.name}, {c.solvent}: {c.error:+.2f}, stated {c.estimate.uncertainty:.2f}"


if __name__ == "__main__":
    sys.stdout.write("\n".join(figures()) + "\n")
