"""What an assessment says: expected masses, steps, checks with findings, yield, diagnosis.

Everything here is plain data: floats, strings and tuples, ready to be stored as it is.
``Band`` and masses are in g; amounts in mmol; shares in 0..1.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from workups.words.numbers import percent


class Strength(StrEnum):
    """How heavy a finding is (see the help page of the grading module)."""

    SAFETY_HOLD = "safety hold"
    PRODUCT_LOSS = "product loss"
    ADVICE = "advice"
    INFORMATION = "information"
    CHOICE = "instructor's choice"


@dataclass(frozen=True)
class Number:
    """A computed number shown with a finding. ``low``/``high``: 5th and 95th percentile.

    ``reveals_yield`` marks numbers that a student may not see before readings are locked.
    """

    name: str
    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    reveals_yield: bool = False


@dataclass(frozen=True)
class Finding:
    """One remark on a plan or a record.

    ``message`` says what happens (free of grams of product), ``change`` what to do differently,
    ``why`` the reason with ``source``. ``cause`` names the root cause; only the finding with
    ``charged`` true takes points for it. ``score_loss`` is 0..1 of its check.
    """

    code: str
    check: str
    strength: Strength
    step: str
    message: str
    change: str
    why: str
    source: str
    numbers: tuple[Number, ...] = ()
    cause: str = ""
    charged: bool = True
    score_loss: float = 0.0
    question: bool = False


@dataclass(frozen=True)
class CheckResult:
    """A check's score in 0..1, its points by the rubric, and its findings."""

    name: str
    score: float
    points: float
    out_of: float
    findings: tuple[Finding, ...] = ()
    note: str = ""


@dataclass(frozen=True)
class Band:
    """Nominal value with the 5th and 95th percentile of the Monte Carlo draws."""

    nominal: float
    low: float
    high: float
    unit: str = "g"


@dataclass(frozen=True)
class PhaseReport:
    """One phase in one flask after a step: volume (mL), density (g/mL), pH, amounts (mmol)."""

    flask: str
    phase: str
    volume_mL: float
    density_g_mL: float
    pH: float | None
    amounts_mmol: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class GasReport:
    """Gas set free at a step (mL at room temperature and 1 atm) and pressure in the funnel.

    ``dry_mL_high`` and ``abs_kPa`` use the cautious end of the range.
    """

    dry_mmol: float
    dry_mL: float
    with_vapour_mL: float
    dry_mL_high: float
    stoppered_kPa: float
    stoppered_gauge_kPa: float


@dataclass(frozen=True)
class TrailShare:
    """Where one target is after a step: ``place`` (flask, waste, glass, ...), share 0..1, g."""

    target: str
    place: str
    phase: str
    share: float
    mass_g: float


@dataclass(frozen=True)
class StepReport:
    """What a step did. ``top``: ``organic``, ``aqueous`` or empty where one layer only.

    ``pH`` is that of the water layer of the last shake, else of the flask the step acted on.
    ``notes`` say what did not come about as the step has it: a pH, a second layer.
    """

    step: str
    verb: str
    top: str
    density_difference_g_mL: float | None
    may_invert: bool
    funnel_fill: float | None
    gas: GasReport | None
    phases: tuple[PhaseReport, ...]
    trail: tuple[TrailShare, ...]
    looks: tuple[str, ...] = ()
    minutes: float = 0.0
    notes: tuple[str, ...] = ()
    pH: float | None = None


@dataclass(frozen=True)
class CurvePoint:
    """Recovery (0..1) with ``portions`` portions."""

    portions: int
    recovery: float
    low: float
    high: float


@dataclass(frozen=True)
class ExpectedTarget:
    """What to expect of one target: masses in g, recovery (None: nothing is extracted), its curves
    where they were asked for, and what the weighed product consists of in g."""

    target: str
    name: str
    theoretical_g: float
    class_band: Band
    plan_band: Band
    recovery: Band | None
    recovery_goal: float
    same_total: tuple[CurvePoint, ...]
    same_portion: tuple[CurvePoint, ...]
    composition_g: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class LedgerLine:
    """Some of one target when it is weighed: the place it is in, the step that took it there and
    how; share 0..1 of what there was, with its 5th and 95th percentile. ``how`` is empty for what
    is in the vessel that is weighed as this product."""

    target: str
    place: str
    step: str
    how: str
    share: float
    low: float
    high: float


@dataclass(frozen=True)
class TargetYield:
    """A yield from readings. ``percent_u``: standard uncertainty of the percent yield (GUM)."""

    target: str
    mass_g: float | None
    mass_u_g: float | None
    theoretical_g: float
    percent: float | None
    percent_u: float | None
    constant_mass: bool | None
    in_class_band: str
    in_done_band: str
    done_band: Band | None


@dataclass(frozen=True)
class Hypothesis:
    """One explanation of the readings, with its probability, the evidence and a question.

    ``place`` in the list, from 1; explanations that fit equally well share one.
    """

    key: str
    title: str
    probability: float
    evidence: tuple[str, ...]
    question: str
    expected: Band | None = None
    place: int = 0

    @property
    def probability_words(self) -> str:
        """In percent; an explanation that is not certain is never said to be."""
        return percent(self.probability)


class _Checked:
    """What the checks of an assessment come to together."""

    checks: tuple[CheckResult, ...]

    @property
    def points(self) -> float:
        """Sum of the points of all checks."""
        return sum(c.points for c in self.checks)

    @property
    def unrounded(self) -> float:
        """What the points are before each check is rounded to tenths: for comparing two plans."""
        return sum(c.score * c.out_of for c in self.checks)

    @property
    def out_of(self) -> float:
        """Sum of the points that could be had."""
        return sum(c.out_of for c in self.checks)

    @property
    def findings(self) -> list[Finding]:
        """The findings of all checks, in their order."""
        return [finding for check in self.checks for finding in check.findings]


@dataclass(frozen=True)
class Verdict(_Checked):
    """The part of an assessment that lists of many are made of: all but what each step did."""

    expected: tuple[ExpectedTarget, ...]
    checks: tuple[CheckResult, ...]
    readings: tuple[TargetYield, ...] = ()
    diagnosis: tuple[Hypothesis, ...] = ()


@dataclass(frozen=True)
class Assessment(_Checked):
    """One assessment, an immutable snapshot of the computed part.

    ``public_numbers``: computed for the exercise as everybody may know it (see ``public.py``), so
    that a student may see it before readings are locked.
    """

    engine: str
    exercise: str
    seed: int
    draws: int
    expected: tuple[ExpectedTarget, ...]
    steps: tuple[StepReport, ...]
    checks: tuple[CheckResult, ...]
    readings: tuple[TargetYield, ...] = ()
    diagnosis: tuple[Hypothesis, ...] = ()
    safety_holds: tuple[str, ...] = ()
    public_numbers: bool = False
    ledger: tuple[LedgerLine, ...] = ()
