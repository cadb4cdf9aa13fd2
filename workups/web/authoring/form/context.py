"""What the templates of the author form show."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.forms import BoundField

from workups.documents.own_substances import own_substances_in
from workups.documents.pointers import value_at
from workups.documents.problems import exercise_problems
from workups.models import ExerciseDraft
from workups.web.access import CourseAccess
from workups.web.authoring.form.asked import Asked
from workups.web.authoring.form.names import (
    NothingFound,
    SubstanceFacts,
    looked_up,
    own_facts,
    own_rows,
    reagent_names,
    substance_facts,
)
from workups.web.authoring.form.own_values import OwnableValue, ownable_values
from workups.web.authoring.form.page import FieldGroup, PartForm, groups_of, opened, texts_in
from workups.web.authoring.form.parts import Block, Group, OwnValues, Part, Priors, Rows
from workups.web.authoring.form.progress import (
    Said,
    add_errors,
    part_for,
    part_states,
    sort_problems,
)
from workups.web.authoring.form.saving import data_of, state_of
from workups.web.authoring.form.texts import Kind


@dataclass(frozen=True)
class ShownField:
    """A field with what stands beside it."""

    bound: BoundField
    asked: Asked
    is_to_fill_in: bool
    is_substance: bool
    facts: SubstanceFacts | NothingFound | None

    @property
    def is_wide(self) -> bool:
        return self.asked.kind in (Kind.PROSE, Kind.LINES, Kind.AMOUNTS, Kind.MATERIALS)


@dataclass(frozen=True)
class ShownGroup:
    """A group of fields, or a row of a list with what is wrong with it as a whole."""

    group: FieldGroup
    fields: list[ShownField]
    seldom: list[ShownField]
    problems: list[str]

    @property
    def is_seldom_open(self) -> bool:
        return any(f.bound.errors or f.bound.value() not in _USUAL for f in self.seldom)


_USUAL = ("", "1", "no")


@dataclass(frozen=True)
class ShownBlock:
    """A block of a part: a group, or a list with its rows and its button to add one."""

    title: str
    help: str
    groups: list[ShownGroup]
    kind: str = "group"
    one: str = ""
    where: str = ""

    @property
    def template(self) -> str:
        return f"workups/authoring/form/_{self.kind}.html"


def frame_context(access: CourseAccess, draft: ExerciseDraft, part: Part) -> dict[str, Any]:
    """What surrounds every part: the list of parts and where the next one is."""
    problems = exercise_problems(draft.document)
    states = part_states(problems)
    at = next(i for i, state in enumerate(states) if state.part is part)
    return {
        "access": access,
        "draft": draft,
        "part": part,
        "part_state": states[at],
        "states": states,
        "after": states[at + 1].part if at + 1 < len(states) else None,
        "is_publishable": not problems,
        "undo_to": draft.version - 1,
    }


def part_context(
    access: CourseAccess, draft: ExerciseDraft, part: Part, texts: dict[str, Any] | None = None
) -> dict[str, Any]:
    """A part with its fields as the document has them, or as they were typed."""
    stands = data_of(draft)
    data = opened(part, stands)
    groups = groups_of(part, data)
    asked = [a for group in groups for a in group.all_fields]
    form = PartForm(asked, texts_in(asked, data) if texts is None else texts, data)
    problems = [p for p in exercise_problems(draft.document) if part_for(p.where) is part]
    said = sort_problems(groups, problems)
    add_errors(form, said)
    return {
        **frame_context(access, draft, part),
        "form": form,
        "blocks": list(_blocks(part, groups, form, said, data)),
        "others": said.others,
        "state": state_of(part, stands),
        "ownable": _ownable(part, draft),
        "reagent_names": _names_to_choose(data)
        if any(a.kind is Kind.SUBSTANCE for a in asked)
        else (),
    }


def _ownable(part: Part, draft: ExerciseDraft) -> list[OwnableValue]:
    if not any(isinstance(block, OwnValues) for block in part.blocks):
        return []
    return [v for v in ownable_values(draft.document) if not v.is_own]


def _names_to_choose(data: Any) -> list[str]:
    return [*reagent_names(), *(str(row.get("name", row["key"])) for row in own_rows(data))]


def _blocks(
    part: Part, groups: Sequence[FieldGroup], form: PartForm, said: Said, data: Any
) -> list[ShownBlock]:
    blocks = []
    for block in part.blocks:
        shown = [shown_group(g, form, said, data) for g in groups if _is_of(g, block)]
        match block:
            case Group():
                blocks.append(ShownBlock(block.title, block.help, shown))
            case Rows():
                where = ".".join(block.path)
                blocks.append(ShownBlock(block.title, block.help, shown, "rows", block.one, where))
            case Priors():
                blocks.append(ShownBlock("", block.help, shown, "priors"))
            case OwnValues():
                blocks.append(ShownBlock("", "", shown, "values"))
            case _:
                blocks.append(ShownBlock("", "", shown, "settings"))
    return blocks


def _is_of(group: FieldGroup, block: Block) -> bool:
    if isinstance(block, Group):
        return not group.path and group.fields[0].path == block.keys[0]
    return group.path[: len(block.path)] == block.path


def shown_group(group: FieldGroup, form: PartForm, said: Said, data: Any) -> ShownGroup:
    own = {substance.key: own_facts(substance) for substance in own_substances_in(data)}

    def shown(a: Asked) -> ShownField:
        is_structure = a.path[0] == "substance" and a.path[-1] == "smiles"
        is_substance = a.kind is Kind.SUBSTANCE or is_structure
        place = (*a.path[:-1], "key") if is_structure else a.path
        key = value_at(data, place) if is_substance else ""
        facts = (own.get(key) or substance_facts(key)) if isinstance(key, str) and key else None
        if is_structure:
            facts = own.get(key) if isinstance(key, str) else None
            return ShownField(form[a.name], a, a.name in said.to_fill_in, True, facts)
        other = looked_up(key) if isinstance(key, str) and key and facts is None else None
        return ShownField(form[a.name], a, a.name in said.to_fill_in, is_substance, facts or other)

    return ShownGroup(
        group,
        [shown(a) for a in group.fields],
        [shown(a) for a in group.seldom],
        said.by_group.get(group.anchor, []),
    )
