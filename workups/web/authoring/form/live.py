"""The panel beside the form: what the model plan of a draft does, as far as it can be carried out,
quickly."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from workups.chemistry.plan import Step
from workups.documents import Problem
from workups.documents.lenient import LenientReading, read_leniently
from workups.documents.problems import exercise_problems
from workups.exercise.exercise import Exercise
from workups.explanation.plausible import doubts
from workups.explanation.starting_mixture import (
    ChargeLine,
    MixtureLine,
    charge_lines,
    starting_mixture,
)
from workups.grading.assess import assess
from workups.grading.assessment import Assessment, StepReport
from workups.selectors.model_preview import ModelPreview, model_preview
from workups.services.computing import CannotBeCarriedOut, computing
from workups.sheets.curve import recovery_figure
from workups.sheets.funnel import funnel_notes
from workups.sheets.layers import shaken_phases
from workups.sheets.scheme import scheme_figure
from workups.sheets.wording import place_words
from workups.stock.stock import stock_for_one
from workups.stock.waste import Waste
from workups.web.authoring.form.parts import Part
from workups.web.authoring.form.progress import is_missing, part_for, plain_words
from workups.words.cautions import step_caution
from workups.words.material_facts import substance_name, substance_word
from workups.words.numbers import fixed, percent, rounded
from workups.words.sentences import step_sentence

# The nominal run is draw 0; this many more make a first band. Publishing computes all of them.
DRAWS = 48
_WORTH_SAYING = 0.005


@dataclass(frozen=True)
class LiveStep:
    """One step carried out: what it says, what it makes, where the product is, what to mind."""

    number: int
    sentence: str
    facts: tuple[str, ...]
    places: tuple[str, ...]
    caution: str


@dataclass(frozen=True)
class LiveModel:
    """Everything the panel beside the author form shows. `stops`: why nothing can be computed."""

    usable: LenientReading
    problems: tuple[Problem, ...] = ()
    stops: str = ""
    doubts: tuple[str, ...] = ()
    charge: tuple[ChargeLine, ...] = ()
    mixture: tuple[MixtureLine, ...] = ()
    assessment: Assessment | None = None
    preview: ModelPreview | None = None
    steps: tuple[LiveStep, ...] = ()
    waste: tuple[Waste, ...] = ()

    @property
    def exercise(self) -> Exercise | None:
        return self.usable.exercise

    @property
    def has_plan(self) -> bool:
        return self.usable.steps > 0

    @property
    def is_weighed(self) -> bool:
        """Whether what can be carried out ends with a mass to expect."""
        plan = self.exercise.model_plan if self.exercise and self.has_plan else None
        return plan is not None and any(step.verb == "weigh" for step in plan.steps)

    @property
    def steps_left(self) -> int:
        return self.usable.of_steps - self.usable.steps


@lru_cache(maxsize=16)
def live_model(text: str) -> LiveModel:
    """The panel for the text of a draft; never raises."""
    usable, problems = read_leniently(text), exercise_problems(text)
    exercise = usable.exercise
    if exercise is None:
        return LiveModel(usable, problems)
    said: tuple[str, ...] = ()
    try:
        with computing("the exercise of a draft", for_author=True):
            said, charge = doubts(exercise), charge_lines(exercise)
            mixture = starting_mixture(exercise)
            if usable.steps == 0:
                return LiveModel(usable, problems, doubts=said, charge=charge, mixture=mixture)
            assessment = assess(exercise, seed=1, draws=DRAWS, curves=True)
            return LiveModel(
                usable,
                problems,
                doubts=said,
                charge=charge,
                mixture=mixture,
                assessment=assessment,
                preview=model_preview(exercise, assessment),
                steps=live_steps(exercise, assessment),
                waste=stock_for_one(exercise).waste,
            )
    except CannotBeCarriedOut as problem:
        return LiveModel(usable, problems, problem.for_author, said)


def live_steps(exercise: Exercise, assessment: Assessment) -> tuple[LiveStep, ...]:
    return tuple(
        LiveStep(
            number,
            step_sentence(step, exercise),
            (*layer_words(exercise, assessment, step), *funnel_notes(report), *report.looks),
            tuple(place_lines(exercise, report)),
            step_caution(step, exercise),
        )
        for number, (step, report) in enumerate(
            zip(exercise.model_plan.steps, assessment.steps, strict=True), 1
        )
    )


def layer_words(exercise: Exercise, assessment: Assessment, step: Step) -> tuple[str, ...]:
    """The two layers of a shake from the top down, with volume and pH."""
    report = next(r for r in assessment.steps if r.step == step.id)
    if not report.top:
        return ()
    phases = shaken_phases(
        exercise.model_plan, assessment.steps, step.id, exercise.setup.glassware.funnel_mL
    )
    ordered = sorted(phases, key=lambda p: p.phase != report.top)
    words = []
    for position, phase in zip(("Upper", "Lower"), ordered, strict=False):
        acidity = f", pH\u00a0{fixed(phase.pH, 1)}" if phase.pH is not None else ""
        words.append(
            f"{position} layer: {phase.phase}, {rounded(phase.volume_mL, 'mL', 2)}{acidity}."
        )
    return tuple(words)


def place_lines(exercise: Exercise, report: StepReport) -> list[str]:
    """Where each target is after a step, the main places first."""
    lines = []
    for target in exercise.setup.targets:
        shares = sorted(
            (s for s in report.trail if s.target == target.substance and s.share > _WORTH_SAYING),
            key=lambda s: -s.share,
        )
        if shares:
            places = "; ".join(f"{percent(s.share)} {place_words(s)}" for s in shares[:4])
            name = substance_word(target.substance, exercise.setup.tables)
            lines.append(f"{name.capitalize()}: {places}.")
    return lines


def blocking_lines(problems: Iterable[Problem]) -> Iterator[tuple[Part, str]]:
    """What keeps an exercise from being published: a part, and what is to be done there."""
    waiting: set[Part] = set()
    for problem in problems:
        part = part_for(problem.where)
        if not is_missing(problem):
            yield part, plain_words(problem.message)
        elif part not in waiting:
            waiting.add(part)
            yield part, "something is still to be filled in."


def values_to_check(preview: ModelPreview) -> list[str]:
    """The values from memory that the targets' own numbers rest on, in words."""
    setup = preview.exercise.setup
    targets = {substance_name(t.substance, setup.tables) for t in setup.targets}
    return [
        f"{value.what} of {value.of}, {value.shown}"
        for value in preview.unchecked_values
        if value.of in targets and value.quantity.grade == "B"
    ]


def panel_context(live: LiveModel) -> dict[str, Any]:
    """What `_panel.html` shows."""
    context: dict[str, Any] = {
        "live": live,
        "draws": DRAWS,
        "blocking": list(blocking_lines(live.problems)),
        "to_mend": any(not is_missing(p) for p in live.problems),
    }
    if live.preview is None or live.exercise is None or live.assessment is None:
        return context
    plan, steps = live.exercise.model_plan, live.assessment.steps
    return context | {
        "exercise": live.exercise,
        "model": live.preview,
        "from_memory": values_to_check(live.preview),
        "curves": [recovery_figure(e) for e in live.assessment.expected if e.same_total],
        "scheme": scheme_figure(live.exercise, plan, steps, shares_only=False),
        "waste": [
            (w.title, rounded(w.volume_mL, "mL", 2) if w.volume_mL else rounded(w.solid_g, "g", 2))
            for w in live.waste
        ],
    }
