"""Substances as a person calls them: by name, CAS number, structure or key."""

from functools import lru_cache
from typing import Any

from workups.chemistry.called import key_called
from workups.chemistry.tables import tables
from workups.documents import known_names
from workups.documents.pointers import items_at
from workups.lookup.identity import Identity, identify


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
