"""Solvents, solutions and drying agents to tick, by kind."""

from typing import Any

from workups.chemistry.tables import tables
from workups.documents.pointers import items_at
from workups.words.material_facts import substance_name

Groups = list[tuple[str, list[tuple[str, str]]]]


def chosen_keys(value: Any) -> list[str]:
    """The keys in a document's list of materials, whatever stands there."""
    return [str(key) for key in value] if isinstance(value, list) else []


def material_groups(data: Any, value: Any) -> Groups:
    """All there is to choose from, and what stands in the list although nobody knows it."""
    known = tables()
    solvents = [(key, substance_name(key, known)) for key in known.solvents]
    solutions = [(key, s.name) for key, s in known.solutions.items()]
    agents = [(key, a.name) for key, a in known.agents.items()]
    listed = {key for group in (solvents, solutions, agents) for key, _ in group}
    own = {
        str(item["key"]): str(item.get("name", item["key"]))
        for item in items_at(data, ("own_material",))
        if isinstance(item, dict) and item.get("key")
    }
    others = [
        (key, own.get(key, f"{key} (not known)"))
        for key in chosen_keys(value)
        if key not in listed
    ]
    groups = [
        ("Solvents", solvents),
        ("Solutions and water", solutions),
        ("Drying agents", agents),
        ("Others", others),
    ]
    return [(title, choices) for title, choices in groups if choices]
