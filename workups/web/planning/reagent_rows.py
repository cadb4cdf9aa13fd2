"""The reagent table as rows of cells: what is given, the field, and the word on the answer."""

from dataclasses import dataclass
from typing import Any

from django.forms import BoundField

from workups.grading.reagent_table import (
    AMOUNT,
    LIMITING,
    MOLAR_MASS,
    THEORETICAL,
    Judgement,
    ReagentLine,
    Verdict,
)
from workups.models import Work
from workups.selectors.reagents import judgement_of
from workups.services.reagents import ReagentTableIsClosed, require_open_table
from workups.web.planning.forms import ReagentTableForm


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
