"""Substances as a person calls them: by name, CAS number, structure or key."""

from functools import lru_cache
from typing import Any

from workups.chemistry.tables import tables
from workups.documents import known_names
from workups.documents.pointers import items_at
from workups.lookup.identity import Identity, identify


@lru_cache(maxsize=1)
def _keys_by_word() -> dict[str, str]:
    """Names, CAS numbers and structures (as written in the tables) to keys; names win."""
    known = tables()
    words: dict[str, str] = {}
    for key, substance in known.substances.items():
        words.setdefault(substance.smiles, key)
        words[substance.cas] = key
    for table in (known.ions, known.salts, known.substances):
        for key, entry in table.items():
            words[entry.name.casefold()] = key
            words.setdefault(entry.name.partition(" (")[0].casefold(), key)
    words.pop("", None)
    return words


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
    if typed in known_names().reagents or not typed:
        return typed
    words = _keys_by_word()
    known = words.get(typed) or words.get(typed.casefold())
    if known:
        return known
    found = identify(typed)
    return found.key if isinstance(found, Identity) and found.key else typed


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
