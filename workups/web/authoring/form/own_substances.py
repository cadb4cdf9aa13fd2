"""Substances that a draft brings along: taken from a look-up, and kept complete while edited."""

from typing import Any

from workups.chemistry.substances import PROPERTIES
from workups.documents import known_names
from workups.documents.encode import encode_record
from workups.documents.pointers import items_at, put, value_at
from workups.documents.toml_text import plain_data
from workups.lookup import NotFound, look_up, own_substance
from workups.web.authoring.form.asked import Asked
from workups.web.authoring.form.names import own_rows


def use_looked_up(do: str, asked: list[Asked], data: dict[str, Any]) -> str:
    """Bring along what was typed into a field, and name it there; gives the place to look at."""
    verb, _, name = do.partition(":")
    field = next((a for a in asked if a.name == name), None)
    if verb != "use" or field is None:
        return ""
    typed = value_at(data, field.path)
    found = look_up(typed) if isinstance(typed, str) else NotFound("", "")
    if isinstance(found, NotFound):
        return ""
    rows = own_rows(data)
    same = [r["key"] for r in rows if r.get("smiles") == found.smiles]
    key = found.key or (same[0] if same else "")
    if not key:
        taken = {*(r["key"] for r in rows), *(
            m.get("key") for m in items_at(data, ("own_material",)) if isinstance(m, dict))}
        names = known_names()
        everything = names.reagents | names.solvents | names.solutions | names.agents
        made = own_substance(found, everything | taken)
        key = made.key
        put(data, ("substance", len(items_at(data, ("substance",))) + 1),
            plain_data(encode_record(made)))
    put(data, field.path, key)
    return f"f-{field.name}"


def complete_units(data: dict[str, Any]) -> None:
    """A constant is asked for in one unit, which the form fills in; one left empty is dropped."""
    for row in items_at(data, ("substance",)):
        values = value_at(row, ("values",))
        for name in list(values) if isinstance(values, dict) else []:
            value = values[name]
            if not isinstance(value, dict) or name not in PROPERTIES:
                continue
            if not value.keys() - {"unit"}:
                del values[name]
            elif "unit" not in value:
                value["unit"] = PROPERTIES[name].unit
