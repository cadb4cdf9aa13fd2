"""A part of the author form as fields, from the document or as typed, and typed text put back."""

import copy
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from workups.documents.errors import Path
from workups.documents.limits import MAX_BYTES
from workups.documents.own_substances import tables_in
from workups.documents.pointers import MISSING, items_at, put, take_away, value_at
from workups.web.authoring.form.asked import Asked, anchor_of, asked_for
from workups.web.authoring.form.choices import (
    chosen_keys,
    material_groups,
    prior_groups,
    setting_rows,
    with_all_settings,
    without_empty_settings,
)
from workups.web.authoring.form.own_values import tables_say, value_names, value_words
from workups.web.authoring.form.parts import Block, Group, OwnValues, Part, Priors, Rows, Settings
from workups.web.authoring.form.texts import Kind, value_of_text

VALUE_FIELDS = ("value", "uncertainty", "unit", "source", "grade", "note")
_TEMPLATE = "workups/authoring/form/_field.html"
_ROWS: Mapping[Kind, int] = {Kind.PROSE: 3, Kind.LINES: 6, Kind.AMOUNTS: 3}
_LONG: Mapping[str, int] = {"background": 12, "task": 8}
_INPUT_ATTRS: Mapping[Kind, dict[str, str]] = {
    Kind.NUMBER: {"inputmode": "decimal"},
    Kind.SUBSTANCE: {"list": "reagent-names", "spellcheck": "false"},
}


@dataclass(frozen=True)
class FieldGroup:
    """Fields shown together. `number`: which row of the list at `path` they are, 0 for none."""

    title: str
    fields: tuple[Asked, ...]
    seldom: tuple[Asked, ...] = ()
    help: str = ""
    path: Path = ()
    number: int = 0
    count: int = 0

    @property
    def anchor(self) -> str:
        return anchor_of(self.path)

    @property
    def all_fields(self) -> tuple[Asked, ...]:
        return (*self.fields, *self.seldom)


def groups_of(part: Part, data: Any) -> list[FieldGroup]:
    """The groups of a part for what stands in the document now."""
    return [group for block in part.blocks for group in _groups(block, data)]


def opened(part: Part, data: dict[str, Any]) -> dict[str, Any]:
    """A copy of the data with everything in it that the part has fields for."""
    if any(isinstance(block, Settings) for block in part.blocks):
        return with_all_settings(data)
    return copy.deepcopy(data)


def close(part: Part, data: dict[str, Any]) -> None:
    """Take out again what `opened` put in and nobody filled."""
    if any(isinstance(block, Settings) for block in part.blocks):
        without_empty_settings(data)


def _groups(block: Block, data: Any) -> Iterator[FieldGroup]:
    match block:
        case Group():
            yield FieldGroup(block.title, tuple(map(asked_for, block.keys)), help=block.help)
        case Rows():
            yield from _row_groups(block, data)
        case Settings():
            for setting, here, fields in setting_rows(data):
                yield FieldGroup(setting.title, fields, path=here)
        case Priors():
            for title, path, fields in prior_groups():
                yield FieldGroup(title, fields, path=path)
        case OwnValues():
            known = tables_in(data)
            for name in value_names(data):
                place: Path = ("values", name)
                fields = _of_row(place, VALUE_FIELDS)
                yield FieldGroup(
                    value_words(name, known), fields, help=tables_say(name, known), path=place
                )


def _row_groups(block: Rows, data: Any) -> Iterator[FieldGroup]:
    count = len(items_at(data, block.path))
    for number in range(1, count + 1):
        here: Path = (*block.path, number)
        yield FieldGroup(
            f"{block.one.capitalize()} {number}",
            _of_row(here, block.fields),
            _of_row(here, block.seldom),
            path=here,
            number=number,
            count=count,
        )


def _of_row(here: Path, names: Sequence[str]) -> tuple[Asked, ...]:
    return tuple(asked_for((*here, *name.split("."))) for name in names)


class PartForm(forms.Form):
    """The fields of some groups. Whatever is typed is valid here: the document's check judges."""

    def __init__(self, asked: Iterable[Asked], texts: Mapping[str, Any], data: Any) -> None:
        super().__init__(texts, auto_id="f-%s")
        self.asked = {a.name: a for a in asked}
        for name, a in self.asked.items():
            self.fields[name] = make_field(a, data)
        self.full_clean()


def make_field(a: Asked, data: Any) -> forms.Field:
    common: dict[str, Any] = {
        "label": f"{a.label}, {a.unit}" if a.unit else a.label,
        "help_text": a.help,
        "required": False,
        "template_name": _TEMPLATE,
    }
    if a.kind is Kind.MATERIALS:
        choices = material_groups(data, value_at(data, a.path))
        return forms.MultipleChoiceField(
            choices=choices, widget=forms.CheckboxSelectMultiple, **common
        )
    return forms.CharField(strip=False, max_length=MAX_BYTES, widget=widget_of(a, data), **common)


def widget_of(a: Asked, data: Any) -> forms.Widget:
    if a.kind in _ROWS:
        return forms.Textarea(attrs={"rows": _LONG.get(a.entry.key, _ROWS[a.kind])})
    if a.kind in (Kind.CHOICE, Kind.FLAG):
        return forms.Select(choices=_choices(a, data))
    return forms.TextInput(attrs={"autocomplete": "off", **_INPUT_ATTRS.get(a.kind, {})})


def _choices(a: Asked, data: Any) -> list[tuple[str, str]]:
    """What may be chosen, and what stands there although it may not be."""
    current = a.text_in(data)
    known = [value for value, _ in a.choices]
    odd = [(current, current)] if current and current not in known else []
    nothing = [("", "choose")] if not current and "" not in known else []
    return [*nothing, *odd, *a.choices]


def texts_in(asked: Iterable[Asked], data: Any) -> dict[str, Any]:
    """What the fields show of a document."""
    return {
        a.name: chosen_keys(value_at(data, a.path)) if a.kind is Kind.MATERIALS else a.text_in(data)
        for a in asked
    }


def texts_sent(asked: Iterable[Asked], sent: Any, data: Any) -> dict[str, Any]:
    """What was typed; what the page did not send is as it stands in the document."""
    stands = texts_in(asked, data)
    for a in asked:
        if a.kind is Kind.MATERIALS:
            if f"{a.name}-asked" in sent:
                stands[a.name] = sent.getlist(a.name)
        elif a.name in sent:
            stands[a.name] = sent.get(a.name)
    return stands


def put_texts(asked: Iterable[Asked], texts: Mapping[str, Any], data: dict[str, Any]) -> None:
    """Put what was typed into the document; what still says the same stays as it is written."""
    for a in asked:
        typed = texts[a.name]
        if a.kind is Kind.MATERIALS:
            _put_materials(a, typed, data)
        elif a.is_changed(data, typed):
            table = a.table_default(data)
            if table:
                put(data, a.path[:-1], dict(table))
            value = value_of_text(a.kind, typed, data)
            if value is MISSING:
                take_away(data, a.path)
            else:
                put(data, a.path, value)


def _put_materials(a: Asked, chosen: Sequence[str], data: dict[str, Any]) -> None:
    """Those still chosen keep their order, new ones come after them."""
    stands = chosen_keys(value_at(data, a.path))
    if set(chosen) == set(stands):
        return
    kept = [key for key in stands if key in chosen]
    put(data, a.path, [*kept, *(key for key in chosen if key not in stands)])
