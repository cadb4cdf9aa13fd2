"""What a sent page of the author form does to the draft."""

import copy
import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict
from django.utils.text import slugify

from workups.chemistry.fields import KEY_LENGTH
from workups.chemistry.substances import PROPERTIES
from workups.documents import known_names
from workups.documents.encode import encode_record
from workups.documents.errors import Path
from workups.documents.pointers import MISSING, items_at, put, take_away, value_at
from workups.documents.rewrite import rewrite, same
from workups.documents.toml_text import parse, plain_data
from workups.lookup import NotFound, look_up, own_substance
from workups.models import ExerciseDraft, Person
from workups.services.drafts import change_draft
from workups.web.authoring.form.asked import Asked, anchor_of
from workups.web.authoring.form.names import own_rows
from workups.web.authoring.form.own_values import drop_own, take_own
from workups.web.authoring.form.page import close, groups_of, opened, put_texts, texts_sent
from workups.web.authoring.form.parts import Part, Rows


class StalePart(Exception):
    """Somebody else changed this part since the page was made. Nothing was overwritten."""

    def __init__(self, current: ExerciseDraft) -> None:
        super().__init__(f"version {current.version} changed this part")
        self.current = current


def data_of(draft: ExerciseDraft) -> dict[str, Any]:
    """The plain data of a draft; raises DocumentError where its text is not TOML."""
    return parse(draft.document)


def state_of(part: Part, data: Mapping[str, Any]) -> str:
    """Names the state of a part: a page that shows another one is out of date."""
    stands = [value_at(data, place) for place in part.places]
    text = json.dumps([None if v is MISSING else v for v in stands], sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@dataclass(frozen=True)
class RowAction:
    """A button of a list: add, remove, up or down, with the list and the row."""

    verb: str
    path: Path
    number: int = 0

    @property
    def anchor(self) -> str:
        return anchor_of((*self.path, self.number))


def row_action(part: Part, do: str) -> RowAction | None:
    """The button that was pressed, None for any other."""
    verb, _, rest = do.partition(":")
    where, _, number = rest.partition(":")
    lists = {".".join(map(str, b.path)): b.path for b in part.blocks if isinstance(b, Rows)}
    if where not in lists or verb not in ("add", "remove", "up", "down"):
        return None
    at = int(number) if number.isascii() and number.isdecimal() and len(number) < 4 else 0
    return RowAction(verb, lists[where], at)


def apply_action(action: RowAction, data: dict[str, Any]) -> RowAction:
    """Do to the list what the button says; gives the row to look at then."""
    rows = items_at(data, action.path)
    if action.verb == "add":
        number = len(rows) + 1
        put(data, (*action.path, number), {})
        return RowAction("add", action.path, number)
    if not 1 <= action.number <= len(rows):
        return action
    if action.verb == "remove":
        take_away(data, (*action.path, action.number))
        return RowAction("remove", action.path, max(1, action.number - 1))
    to = action.number + (1 if action.verb == "down" else -1)
    if 1 <= to <= len(rows):
        rows.insert(to - 1, rows.pop(action.number - 1))
        return RowAction(action.verb, action.path, to)
    return action


@dataclass
class Saved:
    """The draft after a page was sent, and the row its button was about."""

    draft: ExerciseDraft
    action: RowAction | None = None
    anchor: str = ""
    is_changed: bool = False


def save_part(*, actor: Person, draft: ExerciseDraft, part: Part, sent: QueryDict) -> Saved:
    """Put a sent page into the draft's newest text.

    Raises StalePart where somebody else changed the same part meanwhile, and DocumentError where
    the text cannot be read any more; then nothing is changed.
    """
    outcome = Saved(draft)

    def change(current: ExerciseDraft) -> str:
        before = parse(current.document)
        shown = opened(part, before)
        after = copy.deepcopy(shown)
        asked = [a for group in groups_of(part, shown) for a in group.all_fields]
        put_texts(asked, texts_sent(asked, sent, shown), after)
        do = sent.get("do", "")
        outcome.action = row_action(part, do)
        if outcome.action is not None:
            outcome.action = apply_action(outcome.action, after)
        else:
            outcome.anchor = use_looked_up(do, asked, after) or value_action(
                do, after, current.document)
        if any(a.path[0] == "substance" for a in asked):
            complete_units(after)
        _suggest_keys(after, asked)
        close(part, after)
        if same(before, after):
            return current.document
        if sent.get("base", "") != state_of(part, before):
            raise StalePart(current)
        outcome.is_changed = True
        return rewrite(current.document, after)

    outcome.draft = change_draft(actor=actor, draft=draft, change=change)
    return outcome


def value_action(do: str, data: dict[str, Any], text: str) -> str:
    """Begin or drop an own value; gives the place to look at then, empty for any other button."""
    verb, _, name = do.partition(":")
    if verb == "disown":
        drop_own(data, name)
        return "part"
    if verb == "own" and take_own(data, text, name):
        return anchor_of(("values", name))
    return ""


def _suggest_keys(data: dict[str, Any], asked: list[Asked]) -> None:
    """A short name where only the long one is given: people do not care, files do."""
    if any(a.path == ("key",) for a in asked):
        _suggest(data, ("title",), ("key",), "-")
    for number in range(1, len(items_at(data, ("own_material",))) + 1):
        if any(a.path[:2] == ("own_material", number) for a in asked):
            here: Path = ("own_material", number)
            _suggest(data, (*here, "name"), (*here, "key"), "_")
    for number in range(1, len(items_at(data, ("substance",))) + 1):
        if any(a.path[:2] == ("substance", number) for a in asked):
            place: Path = ("substance", number)
            _suggest(data, (*place, "name"), (*place, "key"), "_")


def _suggest(data: dict[str, Any], named: Path, key: Path, joint: str) -> None:
    name = value_at(data, named)
    if isinstance(name, str) and name.strip() and value_at(data, key) in (MISSING, ""):
        words = slugify(name.replace(":", " ")).replace("_", "-")[: KEY_LENGTH // 2].strip("-")
        if joint == "_" and words and not words[0].isalpha():
            words = f"own-{words}"
        if words:
            put(data, key, words.replace("-", joint))


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
