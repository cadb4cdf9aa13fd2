"""Flask labels: one for every flask of a plan, to be cut out and taped on."""

from collections.abc import Sequence
from dataclasses import dataclass

from workups.chemistry.plan import START_FLASK, WASTE, Plan, Step
from workups.chemistry.substances import Tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import PhaseReport, StepReport
from workups.sheets.blanks import Blank, mass_boxes
from workups.sheets.content import FlaskLabels
from workups.sheets.hazard_marks import hazard_marks
from workups.sheets.render import html_of, pdf_of
from workups.sheets.wording import LABEL_NOTICE, day
from workups.stock.mixture_hazards import mixture_hazards
from workups.words.material_facts import molar_mass
from workups.words.sentences import step_heading


@dataclass(frozen=True)
class FlaskLabel:
    """One label. ``origins`` say which layer of which step is in it; ``layered``: of a funnel.

    ``hazards`` are hazard statements (GHS) of what will be in it.
    """

    flask: str
    origins: tuple[str, ...]
    layered: bool
    hazards: tuple[str, ...]


def flask_labels_pdf(sheet: FlaskLabels) -> bytes:
    """The labels as PDF, ten to a page."""
    return pdf_of(flask_labels_html(sheet))


def flask_labels_html(sheet: FlaskLabels) -> str:
    """The labels as the page that is printed."""
    readability_g = sheet.exercise.setup.glassware.balance_readability_g
    return html_of(
        "flask_labels.html",
        {
            "head": sheet.head,
            "title": sheet.exercise.title,
            "kind": "Flask labels",
            "date": day(sheet.head.date),
            "labels": [
                (label, hazard_marks(label.hazards, f"{sheet.head.bench_code}-{number}"))
                for number, label in enumerate(
                    flask_labels(sheet.exercise, sheet.plan, sheet.reports)
                )
            ],
            "notice": LABEL_NOTICE,
            "tare": Blank("tare with label", "g", mass_boxes(readability_g)),
        },
    )


def flask_labels(
    exercise: Exercise, plan: Plan, reports: Sequence[StepReport] = ()
) -> list[FlaskLabel]:
    """A label for every flask, in the order in which the plan first names them."""
    origins: dict[str, list[str]] = {START_FLASK: ["Reaction mixture"]}
    layered: set[str] = set()
    for number, step in enumerate(plan.steps, start=1):
        for flask, words in _poured(step, step_heading(step, exercise), number):
            origins.setdefault(flask, []).append(words)
            if step.layers():
                layered.add(flask)
    return [
        FlaskLabel(
            flask,
            tuple(dict.fromkeys(words)),
            flask in layered,
            flask_hazards(flask, reports, exercise.setup.tables),
        )
        for flask, words in origins.items()
        if flask != WASTE
    ]


def _poured(step: Step, heading: str, number: int) -> list[tuple[str, str]]:
    """The flasks that a step puts something into, with what it is."""
    where = {flask: f": {layer} layer" for layer, flask in step.layers()}
    return [(flask, f"{number}. {heading}{where.get(flask, '')}") for flask in step.destinations()]


def flask_hazards(flask: str, reports: Sequence[StepReport], known: Tables) -> tuple[str, ...]:
    """Hazard statements of what a flask holds after the last step that reports any contents."""
    phases: tuple[PhaseReport, ...] = ()
    for report in reports:
        here = tuple(p for p in report.phases if p.flask == flask and p.amounts_mmol)
        phases = here or phases
    grams: dict[str, float] = {}
    for phase in phases:
        for key, mmol in phase.amounts_mmol:
            grams[key] = grams.get(key, 0.0) + mmol * molar_mass(key, known) * 1e-3
    return mixture_hazards(grams, [p.pH for p in phases if p.pH is not None], known)
