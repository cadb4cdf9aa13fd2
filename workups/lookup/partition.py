"""Partition of a neutral substance between an organic solvent and water, from its structure.

Abraham's linear free-energy equation, anchored at octanol:

    log10 K_solvent = log10 K_octanol + (c + e E + s S + a A + b B + v V)_solvent
                                      - (c + e E + s S + a A + b B + v V)_octanol

E excess molar refraction, S polarity, A and B hydrogen-bond acidity and basicity, V McGowan's
volume [cm3/mol/100] of the substance; the small letters are the solvent's. E, S, A, B are summed
over fragments of the structure, V over atoms and bonds. Because only the difference between two
solvents is computed, an error in the size of the molecule falls out: against the measured values
of our tables the equation alone is 0.4 to 1.7 log off (root mean square), anchored at a measured
octanol value 0.13 to 0.35. That scatter is the uncertainty here, with that of log Kow and, for
amines, one of their own: 0.25 for aliphatic ones, of which secondary and tertiary ones come out
0.28 too high on average and of primary ones no measured value was read; 0.15 for anilines and
pyridines, 0.26 too low (five values).
``python -m tests.bench.partition`` prints all that, by solvent and by class.

Aliphatic amines take Abraham's own descriptors in place of the fragments, which give their NH2 no
acidity. Anilines and pyridines have another basicity (B0) in solvents that hold much water.

Valid near 25 C for neutral molecules of C, H, N, O, S and halogens. Not for ions, salts, or
hydrogen bonds inside the molecule other than the commonest ones on a ring.

References: Abraham, Chem. Soc. Rev. 1993, 22, 73 (https://doi.org/10.1039/CS9932200073);
fragments: Platts, Butina, Abraham and Hersey, J. Chem. Inf. Comput. Sci. 1999, 39, 835
(https://doi.org/10.1021/ci980339t), as carried by a public database; volume: Abraham and
McGowan, Chromatographia 1987, 23, 243 (https://doi.org/10.1007/BF02311772).
"""

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from workups.chemistry.quantity import Quantity

from .structure import count_matches, molecule_of

DATA = Path(__file__).parent / "data"
# McGowan's atomic volumes [cm3/mol]; 6.56 less for every bond.
ATOM_VOLUMES = {
    "H": 8.71, "C": 16.35, "N": 14.39, "O": 12.43, "F": 10.48, "Si": 26.83, "P": 24.87,
    "S": 22.91, "Cl": 20.95, "Br": 26.21, "I": 34.53,
}
BOND_VOLUME = 6.56
GROUP_VALUES = ("E", "S", "A", "B", "B0", "scatter")


class NoEstimateError(ValueError):
    """The structure holds an element that the relation does not cover."""


@dataclass(frozen=True)
class Descriptors:
    """Abraham's descriptors of a substance; all without unit but V [cm3/mol/100].

    ``B0`` stands for B in solvents that hold much water. ``scatter`` is what the groups of a
    molecule add in log10 K to the scatter of the equations [standard uncertainty].
    """

    E: float
    S: float
    A: float
    B: float
    V: float
    B0: float
    scatter: float


@dataclass(frozen=True)
class SolventEquation:
    """Coefficients of one solvent, which basicity it asks for, standard scatter in log10 K,
    source and grade."""

    c: float
    e: float
    s: float
    a: float
    b: float
    v: float
    basicity: str
    scatter: float
    source: str
    grade: str

    def log10_K(self, substance: Descriptors) -> float:
        """The equation alone, not anchored."""
        basicity = substance.B0 if self.basicity == "B0" else substance.B
        return (self.c + self.e * substance.E + self.s * substance.S + self.a * substance.A
                + self.b * basicity + self.v * substance.V)


def _rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


@lru_cache(maxsize=1)
def solvent_equations() -> Mapping[str, SolventEquation]:
    """The equations by solvent key; ``octanol`` is the anchor."""
    return {
        row["solvent"]: SolventEquation(
            float(row["c"]), float(row["e"]), float(row["s"]), float(row["a"]), float(row["b"]),
            float(row["v"]), row["basicity"], float(row["scatter"]), row["source"], row["grade"])
        for row in _rows("abraham_solvents.csv")
    }


@lru_cache(maxsize=1)
def _groups() -> tuple[tuple[str, tuple[float, ...]], ...]:
    """SMARTS and its E, S, A, B, B0 and scatter; the first, without SMARTS, counts once for every
    molecule."""
    return tuple((row["smarts"], tuple(float(row[name]) for name in GROUP_VALUES))
                 for row in _rows("abraham_groups.csv"))


def mcgowan_volume(smiles: str) -> float:
    """McGowan's volume [cm3/mol/100]: atoms less 6.56 for each bond of any order.

    Benzene: 6 x 16.35 + 6 x 8.71 - 12 x 6.56 = 71.64.

    >>> round(mcgowan_volume("c1ccccc1"), 4)
    0.7164
    """
    from rdkit import Chem

    molecule = Chem.AddHs(molecule_of(smiles))
    symbols = [atom.GetSymbol() for atom in molecule.GetAtoms()]
    strange = set(symbols) - ATOM_VOLUMES.keys()
    if strange:
        raise NoEstimateError(f"no estimate for a substance with {', '.join(sorted(strange))}")
    volume = sum(ATOM_VOLUMES[s] for s in symbols) - BOND_VOLUME * molecule.GetNumBonds()
    return volume / 100.0


def descriptors(smiles: str) -> Descriptors:
    """Abraham's descriptors from the structure; NoEstimateError for elements not covered.

    >>> butanol = descriptors("CCCCO")
    >>> round(butanol.A, 2), round(butanol.V, 4)
    (0.35, 0.7309)
    """
    molecule = molecule_of(smiles)
    counted = [(count_matches(molecule, smarts) if smarts else 1, values)
               for smarts, values in _groups()]
    e, s, a, b, b0 = (sum(times * values[i] for times, values in counted) for i in range(5))
    scatter = max(values[5] for times, values in counted if times)
    return Descriptors(e, s, a, b, mcgowan_volume(smiles), b0, scatter)


def estimated_partition(smiles: str, log_kow: Quantity) -> dict[str, Quantity]:
    """log10 K by solvent key for every solvent with an equation, anchored at ``log_kow``.

    Empty where the structure holds an element that is not covered.
    """
    try:
        substance = descriptors(smiles)
    except NoEstimateError:
        return {}
    equations = dict(solvent_equations())
    octanol = equations.pop("octanol").log10_K(substance)
    return {
        solvent: Quantity(
            round(log_kow.value + equation.log10_K(substance) - octanol, 2), "1",
            round(math.hypot(log_kow.uncertainty, equation.scatter, substance.scatter), 2),
            "abraham_platts", "B",
            "estimate: Abraham equation less that for octanol, added to log Kow")
        for solvent, equation in equations.items()
    }
