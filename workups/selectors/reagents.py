from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from workups.chemistry.plan import Parting, Plan
from workups.exercise.exercise import Exercise
from workups.grading.assessment import CheckResult, StepReport
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
from workups.sheets.funnel import Layer, layers_of
from workups.words.material_facts import substance_word


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


# What a student may be asked before a shake is drawn, each question with its computed answer.


_MOST = 0.6
_LEAST_GAS_ML = 0.5


@dataclass(frozen=True)
class Question:
    """One question of a shake: what there is to choose from, by value, and which is right."""

    name: str
    words: str
    options: tuple[tuple[str, str], ...]
    answer: str

    def word(self, value: str) -> str:
        """An option in words."""
        return dict(self.options).get(value, "")


@dataclass(frozen=True)
class Said:
    """What was said to a question."""

    question: Question
    value: str

    @property
    def is_right(self) -> bool:
        return self.value == self.question.answer

    @property
    def said(self) -> str:
        return self.question.word(self.value)

    @property
    def found(self) -> str:
        return self.question.word(self.question.answer)


def questions_of(
    exercise: Exercise, plan: Plan, reports: Sequence[StepReport], step: Parting
) -> list[Question]:
    """Which layer is on top, where each product goes, whether gas comes off; only what the shake
    really decides."""
    layers = layers_of(exercise, plan, reports, step.id)
    if len(layers) < 2:
        return []
    report = next(r for r in reports if r.step == step.id)
    gas = report.gas is not None and report.gas.dry_mL_high >= _LEAST_GAS_ML
    return [
        Question("top", "Which layer lies on top?",
                 (("organic", "the organic layer"), ("aqueous", "the aqueous layer")), report.top),
        *(_place(exercise, layers, n, target.substance)
          for n, target in enumerate(exercise.setup.targets, 1)
          if any(key == target.substance for layer in layers for key, *_ in layer.shares)),
        Question("gas", "Does a gas form, beside solvent vapour?",
                 (("yes", "yes"), ("no", "no")), "yes" if gas else "no"),
    ]


def _place(exercise: Exercise, layers: Sequence[Layer], number: int, target: str) -> Question:
    shares = {
        layer.phase.phase: sum(share for key, share, _ in layer.shares if key == target)
        for layer in layers}
    most = max(shares, key=lambda phase: shares[phase])
    name = substance_word(target, exercise.setup.tables)
    return Question(
        f"product-{number}", f"Where is most of {name} afterwards?",
        (("organic", "in the organic layer"), ("aqueous", "in the aqueous layer"),
         ("both", "in both, about alike")),
        most if shares[most] >= _MOST else "both")


def said_to(questions: Sequence[Question], sent: Mapping[str, str]) -> list[Said]:
    """The answers, in order; none unless every question has one of its options."""
    said = [Said(q, sent.get(q.name, "")) for q in questions]
    return said if all(s.said for s in said) else []
