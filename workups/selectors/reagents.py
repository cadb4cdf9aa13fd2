from workups.chemistry.tables import tables
from workups.grading.assessment import CheckResult
from workups.grading.reagent_table import (
    Judgement,
    LineAnswers,
    ReagentLine,
    check_of,
    judge_answers,
    reagent_lines,
)
from workups.models import ReagentTableEntry, Work


def lines_of(work: Work) -> tuple[ReagentLine, ...]:
    return reagent_lines(work.revision.to_core(), tables())


def answers_of(work: Work) -> dict[str, LineAnswers]:
    """What the student has typed so far, by line."""
    return {
        entry.substance: LineAnswers(
            molar_mass=entry.molar_mass,
            amount_mmol=entry.amount_mmol,
            theoretical_g=entry.theoretical_g,
            limiting=entry.limiting,
        )
        for entry in ReagentTableEntry.objects.filter(work=work)
    }


def judgement_of(work: Work) -> Judgement:
    return judge_answers(lines_of(work), answers_of(work))


def reagent_check_of(work: Work, out_of: float) -> CheckResult:
    return check_of(judgement_of(work), out_of)
