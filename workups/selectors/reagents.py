from dataclasses import dataclass

from workups.grading.assessment import CheckResult
from workups.grading.reagent_table import (
    AMOUNT,
    LIMITING,
    MOLAR_MASS,
    THEORETICAL,
    UNITS,
    Judgement,
    LineAnswers,
    ReagentLine,
    Verdict,
    check_of,
    judge_answers,
    reagent_lines,
)
from workups.models import ReagentTableEntry, Work


def lines_of(work: Work) -> tuple[ReagentLine, ...]:
    exercise = work.to_core()
    return reagent_lines(exercise, exercise.setup.tables)


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


@dataclass(frozen=True)
class GivenAnswer:
    """One answer of the reagent table: about what, what was asked, what was typed, and the word."""

    name: str
    asked: str
    typed: str
    verdict: Verdict


ASKED_WORDS = {
    MOLAR_MASS: "molar mass",
    AMOUNT: "amount",
    THEORETICAL: "theoretical yield",
    LIMITING: "limiting reagent",
}


def given_answers(work: Work) -> list[GivenAnswer]:
    """Every answer that was asked for, in the order of the table."""
    lines, answers = lines_of(work), answers_of(work)
    names = {line.key: line.name for line in lines}
    return [
        GivenAnswer(
            names.get(key, ""),
            ASKED_WORDS[asked],
            ", ".join(names[key] for key, a in answers.items() if a.limiting and key in names)
            if asked == LIMITING
            else _typed(answers.get(key, LineAnswers()), asked),
            verdict,
        )
        for (key, asked), verdict in judge_answers(lines, answers).verdicts.items()
    ]


def _typed(answers: LineAnswers, asked: str) -> str:
    typed: str = getattr(answers, asked)
    bare = typed.replace(".", "", 1).replace(",", "", 1).isdigit()
    return f"{typed} {UNITS[asked]}" if bare else typed
