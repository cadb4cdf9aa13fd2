"""The printed bench sheet as a form: every field that is on it, in the same order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4, uuid5

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from workups.chemistry.plan import FIZZING_STOPPED, STEP_KINDS, FieldKind, Step, field_specs
from workups.documents import step_to_data
from workups.services.entries import TypedSheet
from workups.sheets.bench_sheet import ADDED_ROWS
from workups.sheets.blanks import layer_boxes
from workups.web.bench.entries import kinds_at, kinds_of
from workups.web.bench.entry import BenchForm, EntryForm, Of, SheetRow
from workups.web.bench.reading_kinds import look_field
from workups.web.bench.record import PaperBench
from workups.web.bench.step_kinds import ChangeForm, MarkForm
from workups.web.step_forms import TypedData
from workups.words.material_facts import substance_name
from workups.words.sentences import step_sentence

MARKS = (("", "no mark"), ("done", "done"), ("changed", "changed"), ("skipped", "skipped"))


_REST_LABEL = "Every step that I mark nowhere below has its tick at D, done as planned"
# Of the weighings, by what the names of the fields hold.
_SELDOM_WEIGHED: Mapping[str, str] = {
    "gross-3--": "A third gross reading",
    "part-": "A part taken out before weighing",
    "sign--TLC": "TLC, IR, melting point",
    "sign--IR": "TLC, IR, melting point",
    "mp-": "TLC, IR, melting point",
}


def initials_field(at: str = "") -> forms.CharField:
    label = f"TA's initials at: {at.lower()}" if at else "TA's initials"
    return forms.CharField(label=label, max_length=8)


def in_words(initials: str | None) -> str:
    return f"TA on the sheet: {initials}" if initials else ""


def sheet_field(asked: forms.Field, name: str, label: str | None) -> forms.Field:
    """A field of an entry's form as it stands on the sheet, where all may stay empty."""
    if name.startswith("initials--"):
        return initials_field((label or "").rpartition(": ")[2])
    if label is not None:
        asked.label = label
    if asked.required and isinstance(asked, forms.ChoiceField):
        asked.choices = [("", "none"), *asked.widget.choices]
    asked.help_text = ""
    return asked


REST_IS_DONE = "rest-is-done"


@dataclass(frozen=True)
class SheetPart:
    """A piece of the sheet: its heading and the names of its fields.

    A field whose name holds a key of ``folded`` is seldom filled in and stands behind its words.
    """

    title: str
    names: list[str]
    folded: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class ShownPart:
    """A piece of the sheet on the page: amounts of a changed step stand apart, folds below."""

    title: str
    fields: list[BoundField]
    changed: list[BoundField]
    folds: list[tuple[str, list[BoundField], bool]]


@dataclass(frozen=True)
class EntryRow:
    """A row of the sheet that is one entry: its kind, what it is about, its fields."""

    kind: type[EntryForm]
    about: str
    row: SheetRow

    @property
    def key(self) -> str:
        return next(name for field, name in self.row.names.items() if field not in self.row.shared)


class SheetForm(BenchForm):
    """All fields of the sheet; only those filled in say something.

    What a row says is read by the form of its kind of entry, as at every other door.
    """

    def __init__(self, data: Any = None, *, bench: PaperBench, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.bench = bench
        self.steps = bench.planned
        self.parts: list[SheetPart] = []
        self.rows: list[EntryRow] = []
        self.said: list[EntryForm] = []
        for kind in kinds_of(Of.RECORD):
            self._add("Amounts really used", self._rows(kind, ""))
        if self.steps:
            self._add("Marks", {REST_IS_DONE: forms.BooleanField(label=_REST_LABEL)})
        for number, step in enumerate(self.steps, 1):
            self._add_step(number, step)
        for target in bench.exercise.setup.targets:
            self._add_target(target.substance)
        for row in range(1, ADDED_ROWS + 1):
            self._add_added(row)

    # ---- fields ------------------------------------------------------------------------------

    def _add(
        self, title: str, fields: dict[str, forms.Field], folded: Mapping[str, str] | None = None
    ) -> None:
        for name, made in fields.items():
            made.required = False
            self.fields[name] = made
        if fields:
            self.parts.append(SheetPart(title, list(fields), folded or {}))

    def _rows(self, kind: type[EntryForm], about: str) -> dict[str, forms.Field]:
        """The fields of a kind's rows, as the kind's own form asks for them."""
        made: dict[str, forms.Field] = {}
        for row in kind.on_sheet(self.bench, about):
            self.rows.append(EntryRow(kind, about, row))
            asked = kind(bench=self.bench, about=about).fields
            for field_name, name in row.names.items():
                made[name] = sheet_field(asked[field_name], name, row.labels.get(name))
        return made

    def _add_step(self, number: int, step: Step) -> None:
        made: dict[str, forms.Field] = {
            f"mark--{step.id}": forms.ChoiceField(
                label="Mark", choices=MARKS, widget=forms.RadioSelect
            )
        }
        asked = ChangeForm(bench=self.bench, about=step.id).fields
        for name, spec in field_specs(type(step)).items():
            if spec.kind in (FieldKind.QUANTITY, FieldKind.COUNT):
                made[f"changed--{step.id}--{name}"] = asked[name]
        if layer_boxes(step):
            made[f"upper--{step.id}"] = look_field("The upper layer is", ("organic", "aqueous"))
        if FIZZING_STOPPED in step.to_tick():
            made[f"quiet--{step.id}"] = forms.BooleanField(label="Fizzing had stopped")
        if step.is_initialled:
            made[f"initials--{step.id}"] = initials_field()
        for noted in step.written:
            word = noted.word.capitalize()
            label = f"{word}, {noted.unit}" if noted.unit else word
            made[f"written--{step.id}"] = forms.CharField(label=label, max_length=100)
        for kind in kinds_at(step):
            made |= self._rows(kind, step.id)
        self._add(f"{number}. {step_sentence(step, self.bench.exercise)}", made)

    def _add_added(self, row: int) -> None:
        numbered = [(step.id, f"{n}. {step.title}") for n, step in enumerate(self.steps, 1)]
        made: dict[str, forms.Field] = {
            f"added-after--{row}": forms.ChoiceField(
                label="After step", choices=[("", "not used"), *numbered]
            ),
            f"added-verb--{row}": forms.ChoiceField(
                label="The verb",
                choices=[("", "not used"), *((v, kind.title) for v, kind in STEP_KINDS.items())],
            ),
            f"added-text--{row}": forms.CharField(label="What was done", max_length=300),
        }
        fold = f"A step that was added, row {row} below the last one"
        self._add(f"Added, row {row}", made, {"added-": fold})

    def _add_target(self, target: str) -> None:
        made: dict[str, forms.Field] = {}
        for kind in kinds_of(Of.TARGET):
            made |= self._rows(kind, target)
        name = substance_name(target, self.bench.exercise.setup.tables)
        self._add(f"Weighings and product: {name}", made, _SELDOM_WEIGHED)

    @property
    def sections(self) -> list[ShownPart]:
        return [self._shown(part) for part in self.parts]

    def _shown(self, part: SheetPart) -> ShownPart:
        def fold_of(name: str) -> str:
            return next((words for start, words in part.folded.items() if start in name), "")

        changed = [name for name in part.names if name.startswith("changed--")]
        plain = [name for name in part.names if name not in changed and not fold_of(name)]
        folds = []
        for words in dict.fromkeys(part.folded.values()):
            inside = [self[name] for name in part.names if fold_of(name) == words]
            folds.append((words, inside, any(b.errors or b.value() for b in inside)))
        return ShownPart(part.title, [self[n] for n in plain], [self[n] for n in changed], folds)

    @property
    def names(self) -> list[str]:
        return [name for part in self.parts for name in part.names]

    def named(self, name: str) -> str:
        """A field's label under its heading, for the list of differences."""
        part = next(part for part in self.parts if name in part.names)
        return f"{part.title}: {self.fields[name].label}"

    # ---- what it says ------------------------------------------------------------------------

    def typed(self) -> dict[str, Any]:
        """Each field as it was typed."""
        return {
            name: self.fields[name].widget.value_from_datadict(self.data, self.files, name)
            for name in self.names
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        marks = [form for step in self.steps if (form := self._mark_form(step))]
        rows = [form for row in self.rows if (form := self._row_form(row))]
        for number in range(1, ADDED_ROWS + 1):
            self._clean_added(number)
        self.said = [*marks, *rows]
        if not self.errors and not self.said:
            raise ValidationError("Nothing is filled in.")
        return cleaned

    def _clean_added(self, row: int) -> None:
        names = [f"added-{what}--{row}" for what in ("after", "verb", "text")]
        given = [bool(self.cleaned_data.get(name)) for name in names]
        if any(given) and not all(given):
            self.add_error(names[given.index(False)], "Type the whole row.")

    def sheet(self) -> TypedSheet:
        return TypedSheet(self.typed(), [form.new_entry() for form in self.said])

    def _entry(
        self, kind: type[EntryForm], about: str, said: Mapping[str, Any], key: str
    ) -> EntryForm:
        """An entry's own form with what the sheet says, under a token made from the sheet's."""
        token = self.cleaned_data.get("client_token") or uuid4()
        data = TypedData({**said, "client_token": str(uuid5(token, key))})
        return kind(data, bench=self.bench, about=about)

    def _take(self, form: EntryForm, names: Mapping[str, str], at: str) -> None:
        """What is wrong in an entry is said beside the sheet's fields."""
        for name, errors in form.errors.items():
            place = names.get(name, at)
            if place not in self.errors:
                self.add_error(place, [str(error) for error in errors])

    def _row_form(self, row: EntryRow) -> EntryForm | None:
        typed = {field: self._typed(name) for field, name in row.row.names.items()}
        if not any(value for field, value in typed.items() if field not in row.row.shared):
            return None
        form = self._entry(row.kind, row.about, {**typed, **row.row.given}, row.key)
        self._take(form, row.row.names, row.key)
        return form

    def _typed(self, name: str) -> Any:
        value = self.fields[name].widget.value_from_datadict(self.data, self.files, name)
        return in_words(value) if name.startswith("initials--") else value

    def _mark_form(self, step: Step) -> EntryForm | None:
        """How a step went: its own mark, else the one that all the others have."""
        names = {name: f"changed--{step.id}--{name}" for name in field_specs(type(step))}
        changes = {name: typed for name, at in names.items() if (typed := self._changed(at))}
        others = "done" if self.cleaned_data.get(REST_IS_DONE) else ""
        mark, at = self.cleaned_data.get(f"mark--{step.id}") or others, f"mark--{step.id}"
        remark = self._remark(step)
        if mark == "changed" and not changes:
            self.add_error(at, "Type what was really used.")
        elif remark and not mark:
            self.add_error(at, "Mark the step too.")
        if not mark:
            return None
        said: dict[str, Any] = {"remark": remark, "mark": mark}
        kind: type[EntryForm] = MarkForm
        if mark == "changed":
            kind, said = ChangeForm, {**said, **step_to_data(step), **changes}
        form = self._entry(kind, step.id, said, f"step {step.id}")
        self._take(form, {n: at for n, at in names.items() if at in self.fields}, at)
        return form

    def _changed(self, name: str) -> str:
        return str(self.data.get(name) or "") if name in self.fields else ""

    def _remark(self, step: Step) -> str:
        """What is written at a step beside amounts: a result, the TA's initials."""
        written = self.cleaned_data.get(f"written--{step.id}")
        upper = self.cleaned_data.get(f"upper--{step.id}")
        words = (
            *(f"{n.word} {written} {n.unit}".strip() for n in step.written if written),
            f"upper layer seen: {upper}" if upper else "",
            "fizzing had stopped" if self.cleaned_data.get(f"quiet--{step.id}") else "",
            in_words(self.cleaned_data.get(f"initials--{step.id}")),
        )
        return "; ".join(said for said in words if said)
