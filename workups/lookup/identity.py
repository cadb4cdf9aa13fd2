"""Recognises a substance by name, CAS number or SMILES."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from workups.chemistry.called import key_called, plain
from workups.chemistry.substances import Substance
from workups.chemistry.tables import tables

from .found import NotFound
from .structure import NotAStructureError, Structure, read_structure

MAX_LENGTH = 200
CAS = re.compile(r"(\d{2,7})-(\d{2})-(\d)")
FORMULA = re.compile(r"(?:[A-Z][a-z]?\d*)+")


@dataclass(frozen=True)
class Identity:
    """A recognised substance: key in our tables (else empty), name, CAS, SMILES."""

    key: str
    name: str
    cas: str
    smiles: str


def is_cas(text: str) -> bool:
    """Whether a text is a CAS number whose check digit is right.

    The last digit is the sum of the others, each times its place from the right, modulo 10.

    >>> is_cas("65-85-0"), is_cas("65-85-1")
    (True, False)
    """
    match = CAS.fullmatch(text)
    if match is None:
        return False
    digits = (match[1] + match[2])[::-1]
    return sum(i * int(d) for i, d in enumerate(digits, start=1)) % 10 == int(match[3])


def identify(text: str) -> Identity | NotFound:
    """Recognise a substance: our tables first, then as a structure, then the library.

    What reads as SMILES is never asked of the library, which would take some for formulas and
    answer with another isomer. A formula is refused, because many substances share it.
    """
    text = " ".join(text.split())
    if not text:
        return NotFound(text, "Nothing was typed.")
    if len(text) > MAX_LENGTH:
        return NotFound(text[:MAX_LENGTH], f"Longer than {MAX_LENGTH} characters.")
    if CAS.fullmatch(text) and not is_cas(text):
        return NotFound(text, "The check digit of this CAS number is wrong: a digit is mistyped.")
    ours = _in_our_tables(text) or _salt_called(key_called(text))
    if ours:
        return ours
    try:
        return _as_structure(text)
    except NotAStructureError:
        return _in_the_library(text) or _nothing(text)


@lru_cache(maxsize=1)
def _our_structures() -> Mapping[str, Substance]:
    found = {}
    for substance in tables().substances.values():
        if substance.smiles and "." not in substance.smiles:
            found[read_structure(substance.smiles).smiles] = substance
    return found


def _ours(substance: Substance) -> Identity:
    return Identity(substance.key, substance.name, substance.cas, substance.smiles)


def _in_our_tables(text: str) -> Identity | None:
    substance = tables().substances.get(key_called(text))
    return None if substance is None else _ours(substance)


def _salt_called(key: str) -> NotFound | None:
    """Strong acids and bases and salts stand in a table of their own, as the ions they become."""
    salt = tables().salts.get(key)
    return None if salt is None else NotFound(
        salt.name, f"{salt.name} stands in the tables as the ions it becomes: name it so.",
        (salt.name,))


def _in_the_library(text: str) -> Identity | NotFound | None:
    from chemicals.identifiers import search_chemical

    try:
        entry = search_chemical(text)
    except ValueError:
        return None
    if FORMULA.fullmatch(text) and text not in (entry.common_name, entry.iupac_name):
        return None
    if not entry.smiles:
        return None
    return _known(entry.smiles) or _salt_called(key_called(entry.CASs)) or Identity(
        "", entry.common_name or entry.iupac_name, entry.CASs, entry.smiles)


def _known(smiles: str) -> Identity | None:
    """The substance of our tables with the same structure, if it is there."""
    try:
        same = _our_structures().get(read_structure(smiles).smiles)
    except NotAStructureError:
        return None
    return _ours(same) if same else None


def _as_structure(text: str) -> Identity | NotFound:
    structure = read_structure(text)
    return _known(structure.smiles) or _named(structure)


def _named(structure: Structure) -> Identity | NotFound:
    """The library's name and CAS number of a structure, else its formula as a name."""
    from chemicals.identifiers import search_chemical

    try:
        entry = search_chemical(f"InChIKey={structure.inchi_key}")
    except ValueError:
        return Identity("", structure.formula, "", structure.smiles)
    return _salt_called(key_called(entry.CASs)) or Identity(
        "", entry.common_name or entry.iupac_name, entry.CASs, structure.smiles)


def _nothing(text: str) -> NotFound:
    if FORMULA.fullmatch(text):
        return NotFound(text, "A formula fits many substances: give a name, CAS number or SMILES.")
    names = {plain(s.name): s.name for s in tables().substances.values()}
    near = difflib.get_close_matches(plain(text), names, n=3, cutoff=0.7)
    return NotFound(text, "Neither our tables nor the library know it, and it is no structure in "
                    "SMILES notation.", tuple(names[n] for n in near))
