"""Substances as a person calls them: by name, CAS number, structure or key; and what is known of
each, with source and grade."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from workups.chemistry.called import key_called
from workups.chemistry.quantity import Quantity
from workups.chemistry.substances import Substance
from workups.chemistry.tables import tables
from workups.documents import known_names
from workups.documents.pointers import items_at
from workups.explanation.values_used import GRADE_WORDS
from workups.lookup import NotFound, look_up, still_to_say, structure_svg
from workups.lookup.identity import Identity, identify
from workups.words.numbers import fixed, with_uncertainty


def own_rows(data: Any) -> list[dict[str, Any]]:
    """The substances that a document brings along, those that have a key."""
    rows = items_at(data, ("substance",))
    return [r for r in rows if isinstance(r, dict) and isinstance(r.get("key"), str)]


def key_of(text: str, data: Any = None) -> str:
    """The key that a name, CAS number, SMILES or key stands for; the text where none is known."""
    typed = " ".join(text.split())
    for row in own_rows(data):
        called = [str(row.get(name, "")).casefold() for name in ("key", "name", "cas", "smiles")]
        if typed and typed.casefold() in called:
            return str(row["key"])
    reagents = known_names().reagents
    if typed in reagents or not typed:
        return typed
    known = key_called(typed)
    if known in reagents:
        return known
    found = identify(typed)
    known = (found.key or key_called(found.cas)) if isinstance(found, Identity) else ""
    return known if known in reagents else typed


def name_of(key: str, data: Any = None) -> str:
    """What a substance, salt or ion is called; the key where it is unknown."""
    known = tables()
    for row in own_rows(data):
        if row["key"] == key:
            return str(row.get("name") or key)
    for table in (known.substances, known.salts, known.ions):
        if key in table:
            return str(table[key].name)
    return key


@lru_cache(maxsize=1)
def reagent_names() -> tuple[str, ...]:
    """What can be charged or made, by name, for a list to choose from."""
    return tuple(sorted(map(name_of, known_names().reagents), key=str.casefold))


_TITLES: Mapping[str, str] = {
    "density": "density",
    "boiling_point": "boiling point",
    "melting_point": "melting point",
    "pKa1": "pKa",
    "pKa2": "second pKa",
    "log_kow": "log Kow",
    "water_solubility": "solubility in water",
}


@dataclass(frozen=True)
class FactLine:
    """One value: what, value with unit, grade in words, source."""

    what: str
    value: str
    grade: str
    source: str


@dataclass(frozen=True)
class SubstanceFacts:
    """A substance of the tables. `structure` is SVG markup of our own making, empty for none."""

    key: str
    name: str
    cas: str
    summary: str
    lines: tuple[FactLine, ...]
    structure: str
    is_usable: bool = True
    is_own: bool = False
    missing: tuple[str, ...] = ()


@dataclass(frozen=True)
class NothingFound:
    """Nobody knows what was typed: why, and names that look alike."""

    reason: str
    similar: tuple[str, ...]


@lru_cache(maxsize=256)
def looked_up(text: str) -> SubstanceFacts | NothingFound:
    """What the library knows of a substance that is not in our tables, and what it does not."""
    found = look_up(text)
    if isinstance(found, NotFound):
        return NothingFound(found.reason, found.similar)
    lines = (
        _line("molar mass", f"{fixed(found.molar_mass.value, 2)} g/mol", found.molar_mass.grade,
              found.molar_mass.source),
        *(
            _value_line(title, found.values[name])
            for name, title in _TITLES.items()
            if name in found.values
        ),
    )
    return SubstanceFacts(
        "", found.name, found.cas, _summary(lines), lines, _structure(found.smiles), False,
        missing=found.missing,
    )


@lru_cache(maxsize=256)
def substance_facts(key: str) -> SubstanceFacts | None:
    """Everything to show beside a substance; None where the tables do not know it."""
    known = tables()
    if key in known.substances:
        return _facts_of(known.substances[key])
    for table in (known.salts, known.ions):
        if key in table:
            entry = table[key]
            mass = _line(
                "molar mass", f"{fixed(entry.molar_mass, 2)} g/mol", entry.grade, entry.source
            )
            return SubstanceFacts(key, entry.name, "", _summary((mass,)), (mass,), "")
    return None


def own_facts(own: Substance) -> SubstanceFacts:
    """Of a substance that the exercise brings along, with what is still to be said of it."""
    return replace(_facts_of(own), is_own=True, missing=still_to_say(own))


def _facts_of(found: Substance) -> SubstanceFacts:
    lines = (
        _line("molar mass", f"{fixed(found.molar_mass, 2)} g/mol", found.grade, found.source),
        *(
            _value_line(title, found.values[name])
            for name, title in _TITLES.items()
            if name in found.values
        ),
    )
    return SubstanceFacts(
        found.key, found.name, found.cas, _summary(lines), lines, _structure(found.smiles)
    )


def _line(what: str, value: str, grade: str, source: str) -> FactLine:
    return FactLine(what, value, GRADE_WORDS[grade], tables().sources.get(source, source))


def _value_line(what: str, q: Quantity) -> FactLine:
    unit = {"1": "", "C": "°C"}.get(q.unit, q.unit)
    return _line(what, with_uncertainty(q.value, q.uncertainty, unit), q.grade, q.source)


def _summary(lines: tuple[FactLine, ...]) -> str:
    return "; ".join(f"{line.what} {line.value}" for line in lines[:3])


def _structure(smiles: str) -> str:
    try:
        return structure_svg(smiles, 150, 100) if smiles and "." not in smiles else ""
    except ValueError:
        return ""
