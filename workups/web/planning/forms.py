from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.forms import BoundField

from workups.grading.reagent_table import (
    AMOUNT,
    LIMITING,
    MOLAR_MASS,
    THEORETICAL,
    Judgement,
    LineAnswers,
    ReagentLine,
    Verdict,
)
from workups.models import Work
from workups.selectors.reagents import judgement_of
from workups.services.reagents import ReagentTableIsClosed, require_open_table
from workups.web.fields import VersionField
from workups.web.plan_editor import VersionForm

_ANSWER_LABELS = {MOLAR_MASS: "Molar mass", AMOUNT: "Amount", THEORETICAL: "Theoretical yield"}
_ANSWER_UNITS = {MOLAR_MASS: "g/mol", AMOUNT: "mmol", THEORETICAL: "g"}


class RestorePlanForm(VersionForm):
    to_version = VersionField(min_value=1)
    undo = forms.BooleanField(required=False)


class CopyPlanForm(VersionForm):
    """Of which own work the plan is copied."""

    source = forms.UUIDField()


class ReagentTableForm(forms.Form):
    """All lines of the reagent table; answers stay text, because their figures count."""

    def __init__(
        self,
        data: Any = None,
        *,
        lines: tuple[ReagentLine, ...],
        answers: Mapping[str, LineAnswers],
    ) -> None:
        super().__init__(data)
        self.lines = lines
        self.before = answers
        reacting = [line for line in lines if line.coefficient > 0 and not line.is_product]
        if len(reacting) > 1:
            self.fields[LIMITING] = forms.ChoiceField(
                label="Limiting reagent",
                choices=[(line.key, line.name) for line in reacting],
                widget=forms.RadioSelect,
                required=False,
                initial=next((key for key, a in answers.items() if a.limiting), None),
            )
        for line in lines:
            for asked in line.asks:
                self.fields[f"{asked}-{line.key}"] = answer_field(
                    line, asked, getattr(answers.get(line.key, LineAnswers()), asked)
                )

    def answers(self) -> dict[str, LineAnswers]:
        """What was typed, by line; only after `is_valid`. A field that was not sent stays."""
        chosen = self.cleaned_data.get(LIMITING)
        return {line.key: self._line(line, chosen) for line in self.lines}

    def _line(self, line: ReagentLine, chosen: str | None) -> LineAnswers:
        before = self.before.get(line.key, LineAnswers())
        typed = {
            asked: self.cleaned_data[name]
            for asked in line.asks
            if (name := f"{asked}-{line.key}") in self.data
        }
        return replace(before, limiting=line.key == chosen if chosen else before.limiting, **typed)


def answer_field(line: ReagentLine, asked: str, initial: str) -> forms.Field:
    label = f"{_ANSWER_LABELS[asked]} of {line.name}, {_ANSWER_UNITS[asked]}"
    attrs = {"inputmode": "decimal", "autocomplete": "off", "aria-label": label}
    return forms.CharField(
        label=label,
        max_length=30,
        required=False,
        initial=initial,
        widget=forms.TextInput(attrs=attrs),
    )


# The reagent table as rows of cells: what is given, the field, and the word on the answer.


@dataclass(frozen=True)
class ReagentCell:
    """One answer: its field and the verdict on it."""

    field: BoundField
    unit: str
    verdict: Verdict

    @property
    def says_id(self) -> str:
        return f"{self.field.auto_id}_says"


@dataclass(frozen=True)
class ReagentRow:
    """One line of the table; `may_limit` where it can be chosen as the limiting reagent."""

    line: ReagentLine
    molar_mass: ReagentCell | None
    amount: ReagentCell | None
    theoretical: ReagentCell | None
    may_limit: bool


def table_context(work: Work, form: ReagentTableForm) -> dict[str, Any]:
    judgement = judgement_of(work)
    rows = [reagent_row(line, form, judgement) for line in form.lines]
    verdicts = judgement.verdicts.values()
    return {
        "rows": [row for row in rows if not row.line.is_product],
        "product_rows": [row for row in rows if row.line.is_product],
        "limiting": judgement.verdicts.get((LIMITING, LIMITING)),
        "right": sum(v.right is True for v in verdicts),
        "asked": len(judgement.verdicts),
        "is_begun": any(v.right is not None for v in verdicts),
        "is_closed": is_closed(work),
    }


def is_closed(work: Work) -> bool:
    try:
        require_open_table(work)
    except ReagentTableIsClosed:
        return True
    return False


def reagent_row(line: ReagentLine, form: ReagentTableForm, judgement: Judgement) -> ReagentRow:
    return ReagentRow(
        line=line,
        molar_mass=reagent_cell(line, MOLAR_MASS, "g/mol", form, judgement),
        amount=reagent_cell(line, AMOUNT, "mmol", form, judgement),
        theoretical=reagent_cell(line, THEORETICAL, "g", form, judgement),
        may_limit=LIMITING in form.fields and line.coefficient > 0 and not line.is_product,
    )


def reagent_cell(
    line: ReagentLine, asked: str, unit: str, form: ReagentTableForm, judgement: Judgement
) -> ReagentCell | None:
    if asked not in line.asks:
        return None
    verdict = judgement.verdicts.get((line.key, asked), Verdict(None))
    return ReagentCell(form[f"{asked}-{line.key}"], unit, verdict)
