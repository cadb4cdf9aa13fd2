"""The printed bench sheet as a form: every field that is on it, in the same order."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from workups.chemistry.plan import (
    FIZZING_STOPPED,
    STEP_KINDS,
    WASTE,
    Dry,
    FieldKind,
    Step,
    field_specs,
)
from workups.chemistry.readings import AGENT_LOOKS, LIQUID_LOOKS, ON_PAN, PART_USES
from workups.documents import step_to_data
from workups.grading.exercise import Exercise
from workups.grading.material_facts import substance_name
from workups.grading.reagent_table import ReagentLine
from workups.grading.sentences import step_sentence
from workups.models import ReadingKind
from workups.services.bench import ReadingValues, StepMark
from workups.services.typings import TypedSheet
from workups.sheets.bench_sheet import ADDED_ROWS
from workups.sheets.blanks import layer_boxes
from workups.web.bench.forms import BenchForm, look_field, unit_of
from workups.web.fields import BalanceField, CountField, NumberField, decimals_of
from workups.web.step_forms import label_of

WEIGHINGS = (("tare", "Tare"), ("gross-1", "Gross"), ("gross-2", "Gross again"),
             ("gross-3", "Gross a third time"))  # fmt: skip
SIGNS = (("appearance", "Appearance"), ("odour", "Odour"), ("TLC", "TLC"), ("IR", "IR"))
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


class SheetForm(BenchForm):
    """All fields of the sheet; only those filled in say something."""

    def __init__(
        self,
        data: Any = None,
        *,
        exercise: Exercise,
        steps: Iterable[Step],
        lines: Iterable[ReagentLine],
        **kwargs: Any,
    ) -> None:
        super().__init__(data, **kwargs)
        self.exercise = exercise
        self.steps = list(steps)
        by_staff = {r.substance for r in exercise.setup.reaction.reagents if r.staff_dispensed}
        self.lines = [ln for ln in lines if not ln.is_product and ln.key not in by_staff]
        self.readability = Decimal(str(exercise.setup.glassware.balance_readability_g))
        self.parts: list[SheetPart] = []
        self._add_reagents()
        if self.steps:
            self._add("Marks", {REST_IS_DONE: forms.BooleanField(label=_REST_LABEL)})
        for number, step in enumerate(self.steps, 1):
            self._add_step(number, step)
        for target in exercise.setup.targets:
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

    def _add_reagents(self) -> None:
        made: dict[str, forms.Field] = {
            f"used--{line.key}": NumberField(
                label=f"{line.name}, {unit_of(line)}", unit=unit_of(line), low=0, high=10_000
            )
            for line in self.lines
        }
        self._add("Amounts really used", made)

    def _add_step(self, number: int, step: Step) -> None:
        made: dict[str, forms.Field] = {
            f"mark--{step.id}": forms.ChoiceField(
                label="Mark", choices=MARKS, widget=forms.RadioSelect
            )
        }
        for name, spec in field_specs(type(step)).items():
            if spec.kind is FieldKind.QUANTITY:
                made[f"changed--{step.id}--{name}"] = NumberField(
                    label=label_of(spec), unit=spec.unit, low=spec.low, high=spec.high
                )
            elif spec.kind is FieldKind.COUNT:
                made[f"changed--{step.id}--{name}"] = CountField(
                    label=label_of(spec), low=spec.low, high=spec.high
                )
        made |= self._layer_fields(step)
        if step.is_initialled:
            made[f"initials--{step.id}"] = initials_field()
        for noted in step.written:
            word = noted.word.capitalize()
            label = f"{word}, {noted.unit}" if noted.unit else word
            made[f"written--{step.id}"] = forms.CharField(label=label, max_length=100)
        if isinstance(step, Dry):
            made |= {
                f"agent-mass--{step.id}": NumberField(
                    label="Drying agent used in all, g", unit="g", low=0, high=1000
                ),
                f"agent-portions--{step.id}": CountField(
                    label="In how many portions", low=1, high=100
                ),
                f"drying-time--{step.id}": NumberField(
                    label="Time over the agent, min", unit="min", low=0, high=20_000
                ),
                f"agent-look--{step.id}": look_field("The drying agent looks", AGENT_LOOKS),
                f"liquid-look--{step.id}": look_field("The liquid looks", LIQUID_LOOKS),
            }
        self._add(f"{number}. {step_sentence(step, self.exercise)}", made)

    def _layer_fields(self, step: Step) -> dict[str, forms.Field]:
        """Both layers as seen; the volume of one that went to waste is not asked for."""
        boxes = layer_boxes(step)
        if not boxes:
            return {}
        made: dict[str, forms.Field] = {
            f"upper--{step.id}": look_field("The upper layer is", ("organic", "aqueous"))
        }
        if FIZZING_STOPPED in step.to_tick():
            made[f"quiet--{step.id}"] = forms.BooleanField(label="Fizzing had stopped")
        return made | {
            f"volume--{step.id}--{box.position}": NumberField(
                label=f"{box.position.capitalize()} layer, to {box.goes_to}, mL",
                unit="mL",
                low=0,
                high=10_000,
            )
            for box in boxes
            if box.goes_to != WASTE
        }

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
        decimals = decimals_of(self.readability)
        made: dict[str, forms.Field] = {
            f"flask--{target}": forms.CharField(label="Number on the flask", max_length=30)
        }
        for row, title in WEIGHINGS:
            made[f"{row}--{target}"] = BalanceField(label=f"{title}, g", decimals=decimals)
            made[f"balance--{row}--{target}"] = forms.CharField(
                label=f"Balance at: {title.lower()}", max_length=60
            )
            made[f"pan--{row}--{target}"] = forms.MultipleChoiceField(
                label=f"On the pan at: {title.lower()}",
                choices=[(thing, thing) for thing in ON_PAN],
                widget=forms.CheckboxSelectMultiple,
            )
            made[f"initials--{row}--{target}"] = initials_field(title)
        made[f"part-use--{target}"] = forms.ChoiceField(
            label="Part taken out, to",
            choices=[("", "none"), *((use, use) for use in PART_USES)],
            widget=forms.RadioSelect,
        )
        made[f"part-empty--{target}"] = BalanceField(label="Its vial empty, g", decimals=decimals)
        made[f"part-full--{target}"] = BalanceField(
            label="Its vial with the part, g", decimals=decimals
        )
        for kind, title in SIGNS:
            made[f"sign--{kind}--{target}"] = forms.CharField(label=title, max_length=500)
        made[f"mp-from--{target}"] = NumberField(label="Melts from, °C", low=-100, high=400)
        made[f"mp-to--{target}"] = NumberField(label="Melts to, °C", low=-100, high=400)
        name = substance_name(target, self.exercise.setup.tables)
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
        for step in self.steps:
            if self._mark(step) == "changed" and not self._changes(step):
                self.add_error(f"mark--{step.id}", "Type what was really used.")
            elif self._remark(step) and not self._mark(step):
                self.add_error(f"mark--{step.id}", "Mark the step too.")
        for target in self.exercise.setup.targets:
            self._clean_part(target.substance)
        for row in range(1, ADDED_ROWS + 1):
            self._clean_added(row)
        if not self.errors and not any(self._marks()) and not self._entries():
            raise ValidationError("Nothing is filled in.")
        return cleaned

    def _clean_part(self, target: str) -> None:
        names = [f"part-{what}--{target}" for what in ("use", "empty", "full")]
        use, empty, full = (self.cleaned_data.get(name) for name in names)
        given = [value not in (None, "") for value in (use, empty, full)]
        if any(given) and not all(given):
            missing = names[given.index(False)]
            if missing not in self.errors:
                self.add_error(missing, "A part needs where it went and both masses.")
        elif empty is not None and full is not None and full <= empty:
            self.add_error(names[2], "That is not above the empty vial.")

    def _clean_added(self, row: int) -> None:
        names = [f"added-{what}--{row}" for what in ("after", "verb", "text")]
        given = [bool(self.cleaned_data.get(name)) for name in names]
        if any(given) and not all(given):
            self.add_error(names[given.index(False)], "Type the whole row.")

    def sheet(self) -> TypedSheet:
        return TypedSheet(self.typed(), list(self._marks()), self._entries())

    def _changes(self, step: Step) -> dict[str, Any]:
        found = {
            name: self.cleaned_data.get(f"changed--{step.id}--{name}")
            for name in field_specs(type(step))
        }
        return {
            name: float(value) if isinstance(value, Decimal) else value
            for name, value in found.items()
            if value is not None
        }

    def _mark(self, step: Step) -> str:
        """The mark that is typed, else the one that all the others have."""
        others = "done" if self.cleaned_data.get(REST_IS_DONE) else ""
        return self.cleaned_data.get(f"mark--{step.id}") or others

    def _marks(self) -> Iterable[StepMark]:
        for step in self.steps:
            mark = self._mark(step)
            if mark:
                changes = self._changes(step) if mark == "changed" else {}
                data = {**step_to_data(step), **changes}
                yield StepMark(step.id, mark, data, remark=self._remark(step))

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

    def _entries(self) -> list[ReadingValues]:
        used = [
            e for line in self.lines
            for e in self._number(f"used--{line.key}", ReadingKind.REAGENT, unit_of(line),
                                  subject=line.key)
        ]  # fmt: skip
        dried = [e for step in self.steps if isinstance(step, Dry) for e in self._drying(step.id)]
        volumes = [e for step in self.steps for e in self._volumes(step)]
        seen = [
            e
            for target in self.exercise.setup.targets
            for e in (
                *self._weighings(target.substance),
                *self._part(target.substance),
                *self._signs(target.substance),
            )
        ]
        return [*used, *dried, *volumes, *seen]

    def _volumes(self, step: Step) -> Iterable[ReadingValues]:
        for box in layer_boxes(step):
            name = f"volume--{step.id}--{box.position}"
            yield from self._number(
                name, ReadingKind.VOLUME, "mL", step_id=step.id, flask=box.goes_to
            )

    def _part(self, target: str) -> Iterable[ReadingValues]:
        yield from self._number(
            f"part-empty--{target}",
            ReadingKind.PART,
            "g",
            subject=target,
            flask=self.cleaned_data.get(f"part-use--{target}", ""),
            value_high=self.cleaned_data.get(f"part-full--{target}"),
            readability=self.readability,
        )

    def _number(
        self, name: str, kind: ReadingKind, unit: str, **more: Any
    ) -> Iterable[ReadingValues]:
        found = self.cleaned_data.get(name)
        if found is not None:
            value = Decimal(found)
            yield ReadingValues(
                kind=kind, value=value, decimals=decimals_of(value), unit=unit, **more
            )

    def _drying(self, step: str) -> Iterable[ReadingValues]:
        yield from self._number(f"agent-mass--{step}", ReadingKind.AGENT_MASS, "g", step_id=step)
        yield from self._number(
            f"agent-portions--{step}", ReadingKind.AGENT_PORTIONS, "", step_id=step
        )
        yield from self._number(
            f"drying-time--{step}", ReadingKind.DRYING_TIME, "min", step_id=step
        )
        for kind in (ReadingKind.AGENT_LOOK, ReadingKind.LIQUID_LOOK):
            if word := self.cleaned_data.get(f"{kind.value.replace(' ', '-')}--{step}"):
                yield ReadingValues(kind=kind, step_id=step, text=word)

    def _weighings(self, target: str) -> Iterable[ReadingValues]:
        for row, _ in WEIGHINGS:
            yield from self._number(
                f"{row}--{target}",
                ReadingKind(row.split("-")[0]),
                "g",
                subject=target,
                flask_number=self.cleaned_data.get(f"flask--{target}", ""),
                balance=self.cleaned_data.get(f"balance--{row}--{target}", ""),
                readability=self.readability,
                on_pan=self.cleaned_data.get(f"pan--{row}--{target}", []),
                text=in_words(self.cleaned_data.get(f"initials--{row}--{target}")),
            )

    def _signs(self, target: str) -> Iterable[ReadingValues]:
        for kind, _ in SIGNS:
            if text := self.cleaned_data.get(f"sign--{kind}--{target}"):
                yield ReadingValues(
                    kind=ReadingKind.WITNESS, subject=target, witness_kind=kind, text=text
                )
        low = self.cleaned_data.get(f"mp-from--{target}")
        if low is not None:
            high = self.cleaned_data.get(f"mp-to--{target}")
            yield from self._number(
                f"mp-from--{target}", ReadingKind.WITNESS, "°C", subject=target,
                witness_kind="mp", value_high=high,
            )  # fmt: skip
