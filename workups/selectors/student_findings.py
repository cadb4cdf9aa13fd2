"""Checks and findings as a student may read them, with their place in the plan."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from workups.chemistry.plan import WASTE, Plan, Step
from workups.chemistry.substances import Tables
from workups.exercise.exercise import CHECK_TITLES, FeedbackPolicy
from workups.grading.assessment import Assessment, Finding, LedgerLine, Number, Strength
from workups.grading.points.charges import ledger_words
from workups.grading.visibility import Moment, ShownCheck, shown_checks, shown_finding, shown_ledger
from workups.words.material_facts import substance_name
from workups.words.numbers import percent, ranged

_WORTH_A_LINE = 0.01
_WIDE = 0.02


@dataclass(frozen=True)
class PlaceLine:
    """One place: where, since which step (number and title, None for none), how it came there, the
    share in words and 0..1, and its range where that is wide."""

    place: str
    step: tuple[int, str] | None
    step_id: str
    how: str
    share: float
    words: str
    interval: str
    is_weighed: bool


@dataclass(frozen=True)
class ProductPlaces:
    """One product with its places: what is weighed first, small losses together at the end."""

    name: str
    lines: tuple[PlaceLine, ...]


def product_places(
    assessment: Assessment, plan: Plan, moment: Moment, known: Tables
) -> list[ProductPlaces]:
    """One table for each product; none for an assessment of a version that kept no ledger.

    Raises ComputedFromHidden as ``visibility`` does.
    """
    ledger = shown_ledger(assessment, moment)
    steps = {s.id: (number, s.title) for number, s in enumerate(plan.steps, 1)}
    targets = dict.fromkeys(line.target for line in ledger)
    return [
        ProductPlaces(
            substance_name(target, known),
            tuple(_lines([x for x in ledger if x.target == target], steps)),
        )
        for target in targets
    ]


def _lines(
    ledger: Iterable[LedgerLine], steps: Mapping[str, tuple[int, str]]
) -> Iterable[PlaceLine]:
    small = 0.0
    for line in sorted(ledger, key=lambda x: (bool(x.how), -x.share)):
        if line.how and line.share < _WORTH_A_LINE:
            small += line.share
            continue
        wide = line.high - line.low >= _WIDE
        yield PlaceLine(
            place="the waste" if line.place == WASTE else line.place,
            step=steps.get(line.step),
            step_id=line.step,
            how=ledger_words()[line.how]["how"] if line.how else "weighed as the product",
            share=max(0.0, line.share),
            words=percent(line.share),
            interval=f"{percent(line.low)} to {percent(line.high)}" if wide else "",
            is_weighed=not line.how,
        )
    if small > 0:
        yield PlaceLine(
            "smaller losses together", None, "", "on glass, in washings, with solids", small,
            percent(small), "", is_weighed=False,
        )


NOTE_CLASSES: Mapping[Strength, str] = {
    Strength.SAFETY_HOLD: "hold",
    Strength.PRODUCT_LOSS: "loss",
    Strength.ADVICE: "advice",
    Strength.INFORMATION: "advice",
    Strength.CHOICE: "choice",
}
STRENGTH_WORDS: Mapping[Strength, str] = {
    Strength.SAFETY_HOLD: "Safety hold: your TA has to say a word before this goes to the bench",
    Strength.PRODUCT_LOSS: "Product loss",
    Strength.ADVICE: "Advice",
    Strength.INFORMATION: "Good to know",
    Strength.CHOICE: "Your instructor's choice",
}


@dataclass(frozen=True)
class StudentFinding:
    """A finding already cut to what may be shown, with its step's place in the plan."""

    finding: Finding
    step_number: int | None
    step_title: str
    numbers: tuple[str, ...]
    shows_change: bool
    step: Step | None = None

    @property
    def anchor(self) -> str:
        """Where it stands on the page of a self-check or report."""
        return f"finding-{self.finding.code}-{self.finding.step}"

    @property
    def strength_words(self) -> str:
        return STRENGTH_WORDS[self.finding.strength]

    @property
    def note_class(self) -> str:
        return NOTE_CLASSES[self.finding.strength]


@dataclass(frozen=True)
class StudentCheck:
    """A check as the policy shows it; `is_met` None where even that is not said."""

    name: str
    is_met: bool | None
    findings: tuple[StudentFinding, ...]
    points: float | None
    out_of: float

    @property
    def title(self) -> str:
        return CHECK_TITLES[self.name]


def found_at_steps(findings: Iterable[Finding]) -> dict[str, list[str]]:
    """By step, in a word or two each, what is charged or holds there."""
    words: dict[str, list[str]] = {}
    for found in findings:
        is_hold = found.strength is Strength.SAFETY_HOLD
        if found.step and (found.charged or is_hold):
            said = words.setdefault(found.step, [])
            word = STRENGTH_WORDS[found.strength].partition(":")[0]
            said.extend([word] if word not in said else [])
    return words


def student_checks(
    assessment: Assessment, policy: FeedbackPolicy, plan: Plan, moment: Moment
) -> list[StudentCheck]:
    shown = shown_checks(assessment, policy, moment)
    return [_check(check, plan, moment) for check in shown if _says_something(check, moment)]


def _says_something(check: ShownCheck, moment: Moment) -> bool:
    """While planning, the reagent table has its own page."""
    return moment is not Moment.PLANNING or check.name != "reagent_table"


def _check(check: ShownCheck, plan: Plan, moment: Moment) -> StudentCheck:
    findings = tuple(student_findings(check.findings, plan, moment))
    return StudentCheck(check.name, check.met, findings, check.points, check.out_of)


def findings_by_step(findings: Iterable[StudentFinding]) -> dict[str, list[StudentFinding]]:
    """Findings under the step each is about."""
    by_step: dict[str, list[StudentFinding]] = {}
    for found in findings:
        by_step.setdefault(found.finding.step, []).append(found)
    return by_step


def student_findings(
    findings: Iterable[Finding], plan: Plan, moment: Moment
) -> list[StudentFinding]:
    """Findings cut to the moment; what to do differently is said after release only."""
    places = {step.id: (number, step) for number, step in enumerate(plan.steps, 1)}
    return [_finding(shown_finding(f, moment), places, moment) for f in findings]


def _finding(
    finding: Finding, places: Mapping[str, tuple[int, Step]], moment: Moment
) -> StudentFinding:
    number, step = places.get(finding.step, (None, None))
    return StudentFinding(
        finding=finding,
        step_number=number,
        step_title=step.title if step else "",
        numbers=tuple(number_words(n) for n in finding.numbers),
        shows_change=moment is Moment.RELEASED or finding.strength is Strength.SAFETY_HOLD,
        step=step,
    )


def number_words(number: Number) -> str:
    """A computed number with its name, and its range where it has one."""
    return f"{number.name}: {ranged(number.value, number.low, number.high, number.unit)}"
