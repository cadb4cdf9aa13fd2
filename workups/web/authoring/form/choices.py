"""The settings on which instructors differ, as rows that are all there while they are filled in."""

import copy
from typing import Any

from workups.chemistry.fields import Declared
from workups.documents.errors import Path
from workups.documents.pointers import items_at, put, take_away
from workups.documents.shapes import Entry, Text
from workups.exercise.settings import SETTINGS, Setting
from workups.web.authoring.form.asked import Asked, asked_for


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
