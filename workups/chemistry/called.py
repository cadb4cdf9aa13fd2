"""What people type for what stands in the tables: formulas, abbreviations, "conc. HCl"."""

from __future__ import annotations

import csv
import re
import unicodedata
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path

from .substances import BenchSolution
from .tables import tables

_STRENGTH = re.compile(r"(\d+(?:[.,]\d+)?)\s*(%|(?:m|n|molar|normal|mol/l)\b)")
_STRONGEST = re.compile(r"\b(?:conc(?:entrated)?|sat(?:d|urated)?)\b\.?")
_WEAKEST = re.compile(r"\bdil(?:uted?)?\b\.?")
_FILLING = re.compile(r"\b(?:aq(?:ueous)?|solutions?|soln|wt|w/w|in water|of)\b\.?")
_BEGINNING = 4


def plain(text: str) -> str:
    """A name without case, spaces and signs, subscripts as digits, sulphur as sulfur.

    >>> plain("t-BuOMe"), plain("H₂SO₄"), plain("Sulphuric acid")
    ('tbuome', 'h2so4', 'sulfuricacid')
    """
    letters = re.sub(r"[^a-z0-9]", "", unicodedata.normalize("NFKC", text).casefold())
    return letters.replace("sulph", "sulf")


@lru_cache(maxsize=1)
def also_called() -> Mapping[str, str]:
    """Formulas, abbreviations and trivial names as people write them, to keys of the tables."""
    with Path(__file__).with_name("also_called.csv").open(encoding="utf-8", newline="") as lines:
        return {row["called"]: row["key"] for row in csv.DictReader(lines)}


@lru_cache(maxsize=1)
def _keys() -> Mapping[str, str]:
    """Plain names, short names and CAS numbers to keys; a key wins over a name over an alias."""
    known = tables()
    found = {plain(called): key for called, key in also_called().items()}
    every = (known.ions, known.agents, known.solutions, known.salts, known.substances)
    for table in every:
        for key, entry in table.items():
            short, _, rest = str(getattr(entry, "name", key)).partition(" (")
            found |= {plain(name): key for name in (short, short + rest, getattr(entry, "cas", ""))
                      if name}
    return found | {plain(key): key for table in every for key in table}


def key_called(text: str) -> str:
    """The key of the tables that a name, formula, abbreviation or CAS number stands for, or "".

    >>> key_called("EtOAc"), key_called("glacial acetic acid"), key_called("carbon tetrachloride")
    ('ethyl_acetate', 'acetic_acid', '')
    """
    return _keys().get(plain(text), "")


def material_called(text: str, materials: Iterable[str]) -> str:
    """Which of these materials is meant by its contents: "10 % NaOH", "conc. HCl"; "" for none.

    Of several strengths the nearest to the one that is named: mol/L, or mass per cent of what is
    dissolved, reckoned as its salt. Without one the weakest.

    >>> material_called("conc. HCl", ("hcl_1m", "hcl_conc", "naoh_1m"))
    'hcl_conc'
    >>> material_called("10 % NaOH", ("naoh_1m", "naoh_3m", "brine"))
    'naoh_3m'
    """
    typed = unicodedata.normalize("NFKC", text).casefold()
    strength = _STRENGTH.search(typed)
    half = "half" in typed
    strongest, weakest = _STRONGEST.search(typed), _WEAKEST.search(typed)
    rest = typed.replace("half", " ")
    for pattern in (_STRENGTH, _STRONGEST, _WEAKEST, _FILLING):
        rest = pattern.sub(" ", rest)
    dissolved = key_called(rest) or _begun(rest)
    offered = sorted(_of(dissolved, materials), key=lambda s: _molar(s, dissolved))
    if not offered:
        return ""
    if strength:
        asked = float(strength[1].replace(",", "."))
        measure = _per_cent if strength[2] == "%" else _molar
        return min(offered, key=lambda s: abs(measure(s, dissolved) - asked)).key
    if half:
        return min(offered, key=lambda s: "half" not in s.name).key
    return offered[-1 if strongest and not weakest else 0].key


def meant(text: str, names: Iterable[str]) -> str | None:
    """Which of these keys is meant; "" where it is known and not among them, None if unknown."""
    allowed = frozenset(names)
    key = key_called(text)
    if key in allowed:
        return key
    material = material_called(text, allowed)
    return material or ("" if key else None)


def _begun(text: str) -> str:
    """The one dissolved substance whose name begins like this: "sulfuric"."""
    begun = plain(text)
    if len(begun) < _BEGINNING:
        return ""
    found = {key for name, key in _keys().items() if name.startswith(begun)}
    dissolved = [key for key in sorted(found) if any(
        _of(key, [solution]) for solution in tables().solutions)]
    return dissolved[0] if len(dissolved) == 1 else ""


def _parts(key: str) -> Mapping[str, float]:
    """Mol of each component in a mol of a salt or substance, its water left out."""
    salt = tables().salts.get(key)
    parts = salt.components if salt else {key: 1.0}
    return {k: n for k, n in parts.items() if k != "water"}


def _of(key: str, materials: Iterable[str]) -> list[BenchSolution]:
    """The solutions among these that hold this and nothing else beside water."""
    parts = _parts(key)
    found = []
    for solution in filter(None, map(tables().solutions.get, sorted(materials))):
        shares = {solution.components.get(k, 0.0) / n for k, n in parts.items()}
        if solution.components and parts.keys() == solution.components.keys() and (
                max(shares) <= 1.001 * min(shares)):
            found.append(solution)
    return found


def _molar(solution: BenchSolution, key: str) -> float:
    """Mol of what is dissolved in a litre."""
    first, count = next(iter(_parts(key).items()))
    return solution.components[first] / count


def _per_cent(solution: BenchSolution, key: str) -> float:
    """Mass per cent of what is dissolved, as its salt."""
    known = tables()
    entry = known.salts.get(key) or known.substances[key]
    return _molar(solution, key) * entry.molar_mass / (10.0 * solution.density.value)
