"""What is chosen from lists that are all there while a page is filled in: the settings on which
instructors differ, how likely each explanation of a mass is, and the materials of the bench."""

import copy
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from workups.chemistry.fields import Declared
from workups.chemistry.tables import tables
from workups.documents.errors import Path
from workups.documents.pointers import items_at, put, take_away
from workups.documents.shapes import Entry, Text
from workups.exercise.settings import SETTINGS, Setting
from workups.grading.slips import OTHER, RECORDING, SLIPS, TECHNIQUE
from workups.web.authoring.form.asked import Asked, asked_for, entry_at
from workups.web.authoring.form.texts import number_text
from workups.words.material_facts import substance_name


def with_all_settings(data: dict[str, Any]) -> dict[str, Any]:
    """The data with a row for every setting; those the document lacks hold only their key."""
    opened = copy.deepcopy(data)
    rows = [row for row in items_at(opened, ("choice",)) if isinstance(row, dict)]
    there = {row.get("key") for row in rows}
    if len(rows) == len(items_at(opened, ("choice",))):
        new: list[Any] = [{"key": key} for key in SETTINGS if key not in there]
        put(opened, ("choice",), [*rows, *new])
    return opened


def without_empty_settings(data: dict[str, Any]) -> None:
    """Drop the rows in which nothing was chosen."""
    rows = items_at(data, ("choice",))
    kept = [row for row in rows if not isinstance(row, dict) or row.keys() - {"key"}]
    if not kept:
        take_away(data, ("choice",))
    elif len(kept) < len(rows):
        put(data, ("choice",), kept)


def setting_rows(data: Any) -> list[tuple[Setting, Path, tuple[Asked, ...]]]:
    """Every setting that has a row, in the order of the settings, with its fields."""
    numbers = {
        row.get("key"): number
        for number, row in reversed(list(enumerate(items_at(data, ("choice",)), 1)))
        if isinstance(row, dict) and isinstance(row.get("key"), str)
    }
    rows: list[tuple[Setting, Path, tuple[Asked, ...]]] = []
    for key, setting in SETTINGS.items():
        if key in numbers:
            here: Path = ("choice", numbers[key])
            rows.append((setting, here, (_value(setting, here), asked_for((*here, "reason")))))
    return rows


def _value(setting: Setting, here: Path) -> Asked:
    path = (*here, "value")
    usual = f"as usual: {setting.default} {setting.unit}".rstrip()
    if setting.values:
        shape = Text(choices=("", *setting.values), lines=False)
        entry = Entry("value", "value", shape, "", False, Declared(words={"": usual}))
        return Asked(path, entry, "Value")
    help_ = f"A{usual[1:]}. {setting.low:g} to {setting.high:g} {setting.unit}."
    entry = Entry("value", "value", Text(lines=False), "", False, Declared(hint=help_))
    return Asked(path, entry, "Value")


KINDS: Mapping[str, str] = {
    OTHER: "Nothing wrong, or nothing that is listed",
    TECHNIQUE: "What may have happened at the bench",
    RECORDING: "What may have happened on paper",
}


def prior_groups() -> Iterator[tuple[str, Path, tuple[Asked, ...]]]:
    """The explanations by kind, each group with its title and place."""
    for kind, title in KINDS.items():
        keys = [key for key, slip in SLIPS.items() if slip.kind == kind]
        yield title, ("priors", kind), tuple(map(_asked, keys))


def _asked(key: str) -> Asked:
    slip, path = SLIPS[key], ("priors", key)
    help_ = f"usual weight {number_text(slip.prior)}: {slip.reason}"
    entry = replace(entry_at(path), spec=Declared(help=help_))
    return Asked(path, entry, slip.title)


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
