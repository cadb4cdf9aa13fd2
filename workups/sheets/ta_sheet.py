"""The sheet for teaching staff: what to expect at every step and on the balance.

It holds what students may not see before their readings are locked, and says so on every page.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from workups.chemistry.plan import Step
from workups.chemistry.yields import theoretical_yield
from workups.explanation.model_summary import plan_warnings
from workups.grading.assessment import ExpectedTarget, GasReport, StepReport
from workups.sheets.bench_sheet import planned_amount, repeated_caution
from workups.sheets.prep_sheet import drawn
from workups.sheets.render import html_of, pdf_of
from workups.sheets.staff_content import OwnAmounts, TaSheet, TaSheetPart
from workups.sheets.wording import STAFF_NOTICES, day
from workups.stock.hazards import material_hazards, pictograms_of
from workups.words.cautions import step_caution
from workups.words.material_facts import substance_word
from workups.words.numbers import fixed, interval, joined, mass, percent, rounded
from workups.words.sentences import step_sentence

STAFF_ONLY = "For staff only: it says what to expect. Do not leave it where students work."
_GAS_WORTH_A_WORD_mL = 1.0


@dataclass(frozen=True)
class ExpectedRow:
    """What one product should weigh, as printed."""

    name: str
    theoretical: str
    band: str
    middle: str
    of_theory: str
    recovery: str


@dataclass(frozen=True)
class OwnRow:
    """One student's own amounts, and the middle of what should be weighed from them."""

    code: str
    amounts: tuple[str, ...]
    middle: tuple[str, ...]


@dataclass(frozen=True)
class WatchRow:
    """One step of the model plan with what to see and when to step in."""

    number: int
    sentence: str
    see: tuple[str, ...]
    caution: str


def ta_sheet_pdf(sheet: TaSheet) -> bytes:
    """The sheet as PDF."""
    return pdf_of(ta_sheet_html(sheet))


def ta_sheet_html(sheet: TaSheet) -> str:
    """The sheet as the page that is printed."""
    return html_of(
        "ta_sheet.html",
        {
            "head": sheet.head,
            "title": sheet.title,
            "kind": "TA sheet, staff only",
            "date": day(sheet.head.date),
            "staff_only": STAFF_ONLY,
            "parts": [_part(number, part) for number, part in enumerate(sheet.parts)],
            "notices": STAFF_NOTICES,
        },
    )


def _part(number: int, part: TaSheetPart) -> dict[str, object]:
    exercise = part.exercise
    codes = [h for key in exercise.setup.materials for h in material_hazards(key, exercise)]
    codes += [
        h
        for reagent in exercise.setup.reaction.reagents
        for h in material_hazards(reagent.substance, exercise)
    ]
    return {
        "codes": ", ".join(part.codes),
        "cautions": exercise.texts.cautions,
        "emergency": part.emergency,
        "pictograms": drawn(pictograms_of(codes), f"ta-{number}"),
        "expected": expected_rows(part),
        "own_amounts": own_rows(part),
        "steps": watch_rows(part),
        "warnings": plan_warnings(exercise, exercise.model_plan, part.assessment),
    }


def expected_rows(part: TaSheetPart) -> list[ExpectedRow]:
    """The products with their masses, to the decimals of the exercise's balance."""
    readability_g = part.exercise.setup.glassware.balance_readability_g
    return [_expected(e, readability_g) for e in part.assessment.expected]


def _expected(expected: ExpectedTarget, readability_g: float) -> ExpectedRow:
    band, recovery = expected.class_band, expected.recovery
    return ExpectedRow(
        expected.name,
        mass(expected.theoretical_g, readability_g),
        interval(band.low, band.high, "g"),
        mass(band.nominal, readability_g),
        percent(band.nominal / expected.theoretical_g),
        percent(recovery.nominal) if recovery else "",
    )


def own_rows(part: TaSheetPart) -> list[OwnRow]:
    """Amounts that differ from the common ones; the middle mass scales with the theoretical."""
    return [_own_row(part, own) for own in part.own_amounts]


def _own_row(part: TaSheetPart, own: OwnAmounts) -> OwnRow:
    setup = own.exercise.setup
    readability_g = setup.glassware.balance_readability_g
    common = {r.substance: r for r in part.exercise.setup.reaction.reagents}
    differing = [r for r in setup.reaction.reagents if r != common.get(r.substance)]
    middles = []
    for expected in part.assessment.expected:
        theory_g = theoretical_yield(setup, setup.tables, expected.target).mass.g
        scaled_g = expected.class_band.nominal * theory_g / expected.theoretical_g
        middles.append(f"{expected.name} {mass(scaled_g, readability_g)}")
    amounts = tuple(
        f"{substance_word(r.substance, setup.tables)} {planned_amount(r)}" for r in differing
    )
    return OwnRow(own.code, amounts, tuple(middles))


def watch_rows(part: TaSheetPart) -> list[WatchRow]:
    """The model plan's steps, numbered as on the screen; a caution is printed in full once."""
    rows: list[WatchRow] = []
    first_with: dict[str, str] = {}
    steps = part.exercise.model_plan.steps
    for number, (step, report) in enumerate(zip(steps, part.assessment.steps, strict=True), 1):
        caution = step_caution(step, part.exercise)
        first = first_with.setdefault(caution, str(number))
        shown = caution if first == str(number) else repeated_caution(caution, first)
        sentence = step_sentence(step, part.exercise)
        rows.append(WatchRow(number, sentence, tuple(_to_see(step, report)), shown))
    return rows


def _to_see(step: Step, report: StepReport) -> Iterator[str]:
    if step.layers():
        yield from _layers(step, report)
    if report.pH is not None and (step.layers() or step.verb in ("adjust", "test")):
        yield f"water layer: pH about {fixed(report.pH, 1)}"
    if report.gas is not None and report.gas.dry_mL_high >= _GAS_WORTH_A_WORD_mL:
        yield from _gas(report.gas)
    if report.looks:
        yield f"looks: {joined(report.looks)}"


def _layers(step: Step, report: StepReport) -> Iterator[str]:
    if not report.top:
        yield "one layer only"
        return
    bottom = "aqueous" if report.top == "organic" else "organic"
    upper, _ = step.layers()
    kept = report.top if upper[1] in step.carries_on_in() else bottom
    yield f"{report.top} on top, {bottom} below; the {kept} layer is kept"
    if report.may_invert and report.density_difference_g_mL is not None:
        gap = rounded(abs(report.density_difference_g_mL), "g/mL", 2)
        yield f"densities differ by only {gap}: the layers may change places"


def _gas(gas: GasReport) -> Iterator[str]:
    most = rounded(gas.dry_mL_high, "mL", 2)
    middle = f"about {rounded(gas.dry_mL, 'mL', 2)}, " if gas.dry_mL >= 1.0 else ""
    yield f"gas {middle}up to {most}"
    if gas.stoppered_gauge_kPa >= 1.0:
        pressure = rounded(gas.stoppered_gauge_kPa, "kPa", 2)
        yield f"up to {pressure} over the air's pressure if stoppered at once"
