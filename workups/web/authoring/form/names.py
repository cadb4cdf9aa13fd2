"""Substances as a person calls them: by name, CAS number, structure or key."""

from collections.abc import Iterator
from functools import lru_cache

from workups.chemistry.tables import tables
from workups.documents import known_names
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


def key_of(text: str) -> str:
    """The key that a name, CAS number, SMILES or key stands for; the text where none is known."""
    typed = " ".join(text.split())
    if typed in known_names().reagents or not typed:
        return typed
    words = _keys_by_word()
    known = words.get(typed) or words.get(typed.casefold())
    if known:
        return known
    found = identify(typed)
    return found.key if isinstance(found, Identity) and found.key else typed


def name_of(key: str) -> str:
    """What a substance, salt or ion is called; the key where it is unknown."""
    known = tables()
    for table in (known.substances, known.salts, known.ions):
        if key in table:
            return str(table[key].name)
    return key


@lru_cache(maxsize=1)
def reagent_names() -> tuple[str, ...]:
    """What can be charged or made, by name, for a list to choose from."""
    return tuple(sorted(map(name_of, known_names().reagents), key=str.casefold))


def component_words(components: object) -> Iterator[str]:
    """``sodium: 1`` for each component of a solution or salt."""
    if isinstance(components, dict):
        yield from (f"{name_of(str(key))}: {amount}" for key, amount in components.items())
