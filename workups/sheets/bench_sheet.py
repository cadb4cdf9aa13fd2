"""The bench sheet: a student's own plan with room for everything that is recorded."""

import re
from dataclasses import dataclass

from workups.chemistry.plan import WASTE, Discard, Plan, Weigh
from workups.chemistry.readings import ON_PAN
from workups.chemistry.setup import Reagent, Setup, Target
from workups.exercise.exercise import Exercise
from workups.sheets.blanks import Blank, StepRecord, mass_boxes, step_record
from workups.sheets.content import BenchSheet
from workups.sheets.render import html_of, pdf_of
from workups.sheets.svg import printed
from workups.sheets.wording import BEFORE_YOU_START, BENCH_NOTICES, day
from workups.words.material_facts import substance_name, substance_word
from workups.words.numbers import amount
from workups.words.sentences import STREAM_TITLES, step_caution, step_sentence

# Rows for steps that were added at the bench; the form that the sheet is typed into has as many.
ADDED_ROWS = 2
_FEWEST_GROSS = 3
# A caution up to this many letters is one line and is printed in full every time.
_SHORT = 75


@dataclass(frozen=True)
class ReagentRow:
    """A reagent with its planned amount and the box for the amount really used."""

    name: str
    planned: str
    used: Blank | None


@dataclass(frozen=True)
class StepRow:
    """One step of the plan as printed."""

    number: str
    sentence: str
    note: str
    caution: str
    record: StepRecord


@dataclass(frozen=True)
class WeighingRow:
    """One reading of a balance to be written down."""

    title: str
    reading: Blank


@dataclass(frozen=True)
class WeighingBlock:
    """All readings of one target."""

    target: str
    rows: tuple[WeighingRow, ...]
    part: Blank


def bench_sheet_pdf(sheet: BenchSheet) -> bytes:
    """The bench sheet as PDF."""
    return pdf_of(bench_sheet_html(sheet))


def bench_sheet_html(sheet: BenchSheet) -> str:
    """The bench sheet as the page that is printed."""
    setup = sheet.exercise.setup
    readability_g = setup.glassware.balance_readability_g
    return html_of(
        "bench_sheet.html",
        {
            "head": sheet.head,
            "scheme": printed(sheet.scheme.svg) if sheet.scheme else "",
            "date": day(sheet.head.date),
            "title": sheet.exercise.title,
            "kind": "Bench sheet",
            "before": BEFORE_YOU_START,
            "cautions": sheet.exercise.texts.cautions,
            "reagents": [reagent_row(r, setup) for r in setup.reaction.reagents],
            "steps": step_rows(sheet.exercise, sheet.plan),
            "weighings": [weighing_block(t, sheet.plan, setup) for t in setup.targets],
            "readability": amount(readability_g, "g"),
            "on_pan": ON_PAN,
            "added_rows": range(ADDED_ROWS),
            "streams": waste_streams(sheet.plan),
            "notices": BENCH_NOTICES,
        },
    )


def reagent_row(reagent: Reagent, setup: Setup) -> ReagentRow:
    """A line of the reagent table; nothing to fill in where staff dispense it."""
    name = substance_word(reagent.substance, setup.tables)
    if reagent.mass_g is not None:
        used = Blank("", "g", mass_boxes(setup.glassware.balance_readability_g, 2))
    else:
        used = Blank("", "mmol" if reagent.volume_mL is None else "mL")
    return ReagentRow(name, planned_amount(reagent), None if reagent.staff_dispensed else used)


def planned_amount(reagent: Reagent) -> str:
    """The planned amount of a reagent in the unit in which it is measured out."""
    if reagent.mass_g is not None:
        return amount(reagent.mass_g, "g")
    if reagent.volume_mL is not None:
        return amount(reagent.volume_mL, "mL")
    return amount(reagent.amount_mmol or 0.0, "mmol")


def step_rows(exercise: Exercise, plan: Plan) -> list[StepRow]:
    """The steps in order, numbered as on the screen."""
    readability_g = exercise.setup.glassware.balance_readability_g
    rows: list[StepRow] = []
    first_with: dict[str, str] = {}
    for at, step in enumerate(plan.steps, start=1):
        caution = step_caution(step, exercise)
        first = first_with.setdefault(caution, str(at))
        shown = caution if first == str(at) else repeated_caution(caution, first)
        rows.append(
            StepRow(
                str(at),
                step_sentence(step, exercise),
                step.note,
                shown,
                step_record(step, readability_g),
            )
        )
    return rows


def repeated_caution(caution: str, first: str) -> str:
    """A caution that an earlier step has in full: its first words and where the rest stands.

    >>> repeated_caution("Hold stopper and tap; invert, vent at once. Stop and ask.", "3")
    'Hold stopper and tap; the rest as at step 3.'
    """
    head = re.split(r"[;.]", caution, maxsplit=1)[0]
    return f"{head}; the rest as at step {first}." if len(caution) > _SHORT else caution


def weighing_block(target: Target, plan: Plan, setup: Setup) -> WeighingBlock:
    """Tare and gross readings of a target, as many as the plan asks for and at least three."""
    readability_g = setup.glassware.balance_readability_g
    planned = [s.readings for s in plan.of(Weigh) if (not target.flask or s.flask == target.flask)]
    reading = Blank("", "g", mass_boxes(readability_g))
    gross = [WeighingRow(f"Gross {i + 1}", reading) for i in range(max([_FEWEST_GROSS, *planned]))]
    rows = (WeighingRow("Tare", reading), *gross)
    part = Blank("", "g", mass_boxes(readability_g, 2))
    return WeighingBlock(substance_name(target.substance, setup.tables), rows, part)


def waste_streams(plan: Plan) -> list[str]:
    """The waste containers that a plan uses; the other layer may go straight into one."""
    streams = [STREAM_TITLES[s.stream] for s in plan.of(Discard)]
    straight = [
        f"{'layers' if s.layers() else 'liquids'} poured away at once"
        for s in plan.steps
        if WASTE in s.destinations() and not s.waste_stream
    ]
    return sorted({*streams, *straight})
