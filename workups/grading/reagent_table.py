"""The reagent table: what is asked of a student on each line, and how answers are judged.

Every answer is judged with the student's own earlier answers (error carried forward): a wrong
molar mass is charged once, and both the amount that follows from it and the one that is right in
itself are accepted. An answer is right within 1 %, or within half of its last digit. Too few or
too many figures are remarked on, not charged.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from workups.chemistry.setup import Reagent
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import CheckResult
from workups.grading.scoring import tenths
from workups.words.numbers import amount

MOLAR_MASS, AMOUNT, THEORETICAL, LIMITING = (
    "molar_mass",
    "amount_mmol",
    "theoretical_g",
    "limiting",
)
UNITS: Mapping[str, str] = {MOLAR_MASS: "g/mol", AMOUNT: "mmol", THEORETICAL: "g"}
TOLERANCE = 0.01
FEWEST_FIGURES, MOST_FIGURES = 3, 6
_OTHER_UNITS: Mapping[str, Mapping[str, float]] = {
    MOLAR_MASS: {"g/mol": 1.0, "gmol-1": 1.0, "kg/mol": 1000.0, "mg/mmol": 1.0},
    AMOUNT: {"mmol": 1.0, "mol": 1000.0, "µmol": 0.001, "umol": 0.001},
    THEORETICAL: {"g": 1.0, "mg": 0.001, "kg": 1000.0},
}
_NUMBER = re.compile(r"(?P<number>\d+(?:[.,]\d*)?|[.,]\d+)\s*(?P<unit>[^\d.,]*)")


@dataclass(frozen=True)
class ReagentLine:
    """One line: what is known, and which answers are asked for.

    ``molar_mass`` [g/mol] is the right one; ``density`` [g/mL] is given where the amount is a
    volume. ``planned`` is the amount as the student reads it.
    """

    key: str
    name: str
    role: str
    coefficient: float
    planned: str
    asks: tuple[str, ...]
    molar_mass: float
    mass_g: float | None = None
    volume_mL: float | None = None
    given_mmol: float | None = None
    density: float | None = None
    purity: float = 1.0
    is_product: bool = False

    def mmol_with(self, molar_mass: float) -> float:
        """Amount [mmol] of the substance with a molar mass [g/mol]."""
        if self.given_mmol is not None:
            return self.given_mmol
        mass_g = self.mass_g
        if mass_g is None:
            mass_g = (self.volume_mL or 0.0) * (self.density or 1.0)
        return mass_g * self.purity / molar_mass * 1000.0


@dataclass(frozen=True)
class LineAnswers:
    """One line as typed."""

    molar_mass: str = ""
    amount_mmol: str = ""
    theoretical_g: str = ""
    limiting: bool = False


@dataclass(frozen=True)
class Verdict:
    """``right`` None: not answered. ``message`` says what to look at, or a remark on figures."""

    right: bool | None
    message: str = ""


@dataclass(frozen=True)
class Judgement:
    """A verdict for each (line, field) asked, and for the limiting reagent under its own key."""

    verdicts: Mapping[tuple[str, str], Verdict] = field(default_factory=dict)

    @property
    def score(self) -> float:
        """Share of the answers asked for that are right, 0..1; 1 where nothing is asked."""
        if not self.verdicts:
            return 1.0
        return sum(v.right is True for v in self.verdicts.values()) / len(self.verdicts)

    @property
    def is_answered(self) -> bool:
        """Whether every answer asked for was given."""
        return all(v.right is not None for v in self.verdicts.values())


def reagent_lines(exercise: Exercise, tables: Tables) -> tuple[ReagentLine, ...]:
    """The lines of an exercise's reagent table, products last."""
    reaction = exercise.setup.reaction
    reagents = tuple(_reagent_line(r, tables) for r in reaction.reagents)
    reacting = any(line.coefficient for line in reagents)
    products = tuple(
        ReagentLine(
            key=p.substance,
            name=_name(p.substance, tables),
            role="product",
            coefficient=p.coefficient,
            planned="",
            asks=(MOLAR_MASS, THEORETICAL),
            molar_mass=tables.substances[p.substance].molar_mass,
            is_product=True,
        )
        for p in reaction.products
        if reacting and p.substance in {t.substance for t in exercise.setup.targets}
    )
    return (*reagents, *products)


def _name(key: str, tables: Tables) -> str:
    """The short form: what stands in brackets is about mixtures, or another name."""
    name = tables.substances[key].name if key in tables.substances else key.replace("_", " ")
    return name.partition(" (")[0]


def _reagent_line(reagent: Reagent, tables: Tables) -> ReagentLine:
    known = tables.substances.get(reagent.substance)
    density = known.values.get("density") if known else None
    asked = reagent.coefficient > 0 and (reagent.volume_mL is None or density is not None)
    asks = (MOLAR_MASS, AMOUNT) if asked and reagent.amount_mmol is None else ()
    return ReagentLine(
        key=reagent.substance,
        name=_name(reagent.substance, tables),
        role=reagent.role,
        coefficient=reagent.coefficient,
        planned=_planned(reagent),
        asks=asks,
        molar_mass=_molar_mass(reagent, tables),
        mass_g=reagent.mass_g,
        volume_mL=reagent.volume_mL,
        given_mmol=reagent.amount_mmol,
        density=density.value if density and reagent.volume_mL is not None else None,
        purity=reagent.purity,
    )


def _planned(reagent: Reagent) -> str:
    for value, unit in (
        (reagent.mass_g, "g"),
        (reagent.volume_mL, "mL"),
        (reagent.amount_mmol, "mmol"),
    ):
        if value is not None:
            return amount(value, unit)
    return ""


def _molar_mass(reagent: Reagent, tables: Tables) -> float:
    if not reagent.composition:
        return tables.molar_mass(reagent.substance)
    return sum(tables.molar_mass(k) * n for k, n in reagent.composition.items())


@dataclass(frozen=True)
class Typed:
    """A number as typed, in the unit asked for, with its figures and half of its last digit."""

    value: float
    figures: int
    half_digit: float


class NotANumber(ValueError):
    """What was typed is not a number in a unit that fits."""


def read_number(text: str, asked: str) -> Typed:
    """Read an answer; a comma is a decimal point, another unit is converted.

    Raises NotANumber with what to do.
    """
    match = _NUMBER.fullmatch(text.strip().replace("\u2212", "-"))
    if match is None:
        raise NotANumber("A number greater than zero is expected here, such as 12.5.")
    digits = match["number"].replace(",", ".")
    unit = match["unit"].strip().replace(" ", "").replace("·", "").replace("⁻¹", "-1")
    factors = _OTHER_UNITS[asked]
    if unit and unit not in factors:
        raise NotANumber(f"The unit asked for is {UNITS[asked]}.")
    factor = factors.get(unit, 1.0)
    decimals = len(digits.partition(".")[2])
    figures = len(digits.replace(".", "").lstrip("0"))
    value = float(digits) * factor
    if value <= 0:
        raise NotANumber("A number greater than zero is expected here.")
    return Typed(value, figures, 0.5 * 10.0**-decimals * factor)


def judge_answers(
    lines: tuple[ReagentLine, ...], answers: Mapping[str, LineAnswers]
) -> Judgement:
    """Judge every answer asked for, carrying earlier ones forward."""
    verdicts: dict[tuple[str, str], Verdict] = {}
    for line in lines:
        mine = answers.get(line.key, LineAnswers())
        if MOLAR_MASS in line.asks:
            verdicts[line.key, MOLAR_MASS] = _verdict(mine.molar_mass, MOLAR_MASS, line.molar_mass)
        if AMOUNT in line.asks:
            own = _own(mine.molar_mass, MOLAR_MASS, line.molar_mass)
            verdicts[line.key, AMOUNT] = _verdict(
                mine.amount_mmol, AMOUNT, line.mmol_with(line.molar_mass), line.mmol_with(own)
            )
    limiting = limiting_line(lines, answers)
    if limiting is not None:
        verdicts[LIMITING, LIMITING] = _limiting_verdict(lines, answers, limiting)
        for line in lines:
            if THEORETICAL in line.asks:
                verdicts[line.key, THEORETICAL] = _theoretical(line, limiting, lines, answers)
    return Judgement(verdicts)


def _own(text: str, asked: str, right: float) -> float:
    """The student's own number where it can be read, else the right one."""
    try:
        typed = read_number(text, asked)
    except NotANumber:
        return right
    return right if _agrees(typed, right) else typed.value


def own_mmol(line: ReagentLine, answers: Mapping[str, LineAnswers]) -> float:
    """The amount [mmol] this student works with: their own where given, else the right one."""
    mine = answers.get(line.key, LineAnswers())
    right = line.mmol_with(_own(mine.molar_mass, MOLAR_MASS, line.molar_mass))
    return _own(mine.amount_mmol, AMOUNT, right) if AMOUNT in line.asks else right


def limiting_line(
    lines: tuple[ReagentLine, ...], answers: Mapping[str, LineAnswers]
) -> ReagentLine | None:
    """The limiting reagent by the student's own amounts over the coefficients."""
    reacting = [line for line in lines if line.coefficient > 0 and not line.is_product]
    if len(reacting) < 2:
        return reacting[0] if reacting else None
    return min(reacting, key=lambda line: own_mmol(line, answers) / line.coefficient)


def _limiting_verdict(
    lines: tuple[ReagentLine, ...],
    answers: Mapping[str, LineAnswers],
    limiting: ReagentLine,
) -> Verdict:
    chosen = [line for line in lines if answers.get(line.key, LineAnswers()).limiting]
    if not chosen:
        return Verdict(None)
    right = limiting_line(lines, {}) or limiting
    if chosen[0].key in (limiting.key, right.key):
        return Verdict(True)
    return Verdict(
        False,
        f"There is more than enough {chosen[0].name}: compare the amounts in mmol, each divided "
        "by its coefficient in the equation.",
    )


def _theoretical(
    line: ReagentLine,
    limiting: ReagentLine,
    lines: tuple[ReagentLine, ...],
    answers: Mapping[str, LineAnswers],
) -> Verdict:
    mine = answers.get(line.key, LineAnswers())
    own_mass = _own(mine.molar_mass, MOLAR_MASS, line.molar_mass)
    carried = _yield_g(line, limiting, own_mmol(limiting, answers), own_mass)
    right_limiting = limiting_line(lines, {}) or limiting
    right_mmol = right_limiting.mmol_with(right_limiting.molar_mass)
    right = _yield_g(line, right_limiting, right_mmol, line.molar_mass)
    return _verdict(mine.theoretical_g, THEORETICAL, right, carried)


def _yield_g(line: ReagentLine, limiting: ReagentLine, mmol: float, molar_mass: float) -> float:
    """Theoretical yield [g] of a product from the amount of the limiting reagent [mmol]."""
    return mmol / limiting.coefficient * line.coefficient * molar_mass / 1000.0


def _verdict(text: str, asked: str, right: float, carried: float | None = None) -> Verdict:
    """Right where it is right, and where it follows from the student's own numbers."""
    if not text.strip():
        return Verdict(None)
    try:
        typed = read_number(text, asked)
    except NotANumber as problem:
        return Verdict(False, str(problem))
    if _agrees(typed, right):
        return Verdict(True, _figures_remark(typed, asked, carried=False))
    if carried is not None and _agrees(typed, carried):
        return Verdict(True, _figures_remark(typed, asked, carried=True))
    return Verdict(False, _wrong(typed.value, asked, right if carried is None else carried))


def _agrees(typed: Typed, right: float) -> bool:
    return abs(typed.value - right) <= max(TOLERANCE * right, typed.half_digit)


def _figures_remark(typed: Typed, asked: str, carried: bool) -> str:
    remarks = ["Right with your numbers above, one of which is not."] if carried else []
    if typed.figures < FEWEST_FIGURES:
        remarks.append(
            f"Write it to {FEWEST_FIGURES} significant figures: what you measure is known to "
            "that many."
        )
    elif typed.figures > MOST_FIGURES and asked != MOLAR_MASS:
        remarks.append("More figures than the amounts are known to: round it.")
    return " ".join(remarks)


def _wrong(value: float, asked: str, right: float) -> str:
    ratio = value / right
    unit = UNITS[asked]
    for factor in (1000.0, 0.001):
        if abs(ratio / factor - 1.0) <= TOLERANCE:
            many = "1000 times too large" if factor > 1 else "1000 times too small"
            return f"This is {many}: look at the unit, {unit}."
    hint = {
        MOLAR_MASS: "Add up the atoms of the formula once more.",
        AMOUNT: "Mass divided by molar mass; for a volume, times the density first.",
        THEORETICAL: "Amount of the limiting reagent, by the coefficients, times the molar mass "
        "of the product.",
    }[asked]
    return f"Too {'high' if ratio > 1 else 'low'}. {hint}"


def check_of(judgement: Judgement, out_of: float) -> CheckResult:
    """The reagent table as a check, its points by the exercise's rubric."""
    right = sum(v.right is True for v in judgement.verdicts.values())
    asked = len(judgement.verdicts)
    note = f"{right} of {asked} answers right, errors carried forward" if asked else "nothing asked"
    return CheckResult(
        name="reagent_table",
        score=judgement.score,
        points=tenths(judgement.score * out_of),
        out_of=out_of,
        note=note,
    )
