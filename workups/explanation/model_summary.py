"""What an author wants to know of the model plan at a glance: gas, drying, and plain warnings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from workups.chemistry.flow import Flow
from workups.chemistry.limits import FUNNEL_FULL
from workups.chemistry.plan import Dry, Plan, Step, Strip
from workups.chemistry.substances import Tables
from workups.chemistry.tables import tables
from workups.exercise.exercise import Exercise
from workups.grading.assessment import Assessment, ExpectedTarget, GasReport, StepReport
from workups.words.material_facts import substance_word
from workups.words.numbers import NBSP, amount, percent, rounded
from workups.words.sentences import step_heading

WORTH_A_WORD = 0.02
# So far above the room a crude may melt and still be an oil (common practice, no source).
SETS_ABOVE_K = 40.0
MORE_THAN_CAN_BE = 1.05
WATER_KEY, AGENT_PREFIX = "water", "agent:"


@dataclass(frozen=True)
class GasLine:
    """Gas at one step, in mL at room temperature, and gauge pressure in kPa if stoppered."""

    number: int
    heading: str
    gas: GasReport


@dataclass(frozen=True)
class DryingLine:
    """Water before a drying step [g], dissolved and as droplets, and the agent used [g]."""

    number: int
    heading: str
    dissolved_g: float
    droplets_g: float
    agent_g: float
    looks: tuple[str, ...]


def gas_lines(exercise: Exercise, plan: Plan, assessment: Assessment) -> tuple[GasLine, ...]:
    """Every step of a plan that sets gas free."""
    return tuple(
        GasLine(number, step_heading(step, exercise), report.gas)
        for number, step, report in _steps(plan, assessment)
        if report.gas is not None and report.gas.dry_mL >= 1.0
    )


def drying_lines(exercise: Exercise, plan: Plan, assessment: Assessment) -> tuple[DryingLine, ...]:
    """Every drying step of a plan with its water load."""
    lines = []
    before: StepReport | None = None
    for number, step, report in _steps(plan, assessment):
        if isinstance(step, Dry) and before is not None:
            lines.append(
                DryingLine(
                    number,
                    step_heading(step, exercise),
                    _water_g(before, step.flask, ("organic",)),
                    _water_g(before, step.flask, ("droplets", "aqueous")),
                    _agent_g(report, step),
                    report.looks,
                )
            )
        before = report
    return tuple(lines)


def _steps(plan: Plan, assessment: Assessment) -> Iterator[tuple[int, Step, StepReport]]:
    yield from (
        (number, step, report)
        for number, (step, report) in enumerate(zip(plan.steps, assessment.steps, strict=True), 1)
    )


def _water_g(report: StepReport, flask: str, phases: Sequence[str]) -> float:
    mmol = sum(
        dict(p.amounts_mmol).get(WATER_KEY, 0.0)
        for p in report.phases
        if p.flask == flask and p.phase in phases
    )
    return mmol * tables().substances[WATER_KEY].molar_mass * 1e-3


def _agent_g(report: StepReport, step: Dry) -> float:
    if step.endpoint == "weighed":
        return step.mass_g
    mmol = sum(
        dict(p.amounts_mmol).get(AGENT_PREFIX + step.agent, 0.0)
        for p in report.phases
        if p.flask == step.flask
    )
    return mmol * tables().agents[step.agent].molar_mass * 1e-3


def plan_warnings(exercise: Exercise, plan: Plan, assessment: Assessment) -> tuple[str, ...]:
    """What an author should have seen before students do, one plain sentence each."""
    is_weighed = any(step.verb == "weigh" for step in plan.steps)
    targets = assessment.expected if is_weighed else ()
    return (
        *_states(exercise),
        *_losses(exercise, plan, assessment),
        *_layers(exercise, plan, assessment),
        *(w for expected in targets for w in _target_warnings(expected, exercise.setup.tables)),
    )


def _states(exercise: Exercise) -> Iterator[str]:
    """Products that are said to be weighed as what they cannot be."""
    known, room_C = exercise.setup.tables, exercise.setup.room_C
    for target in exercise.setup.targets:
        melts = known.substances[target.substance].values.get("melting_point")
        said = "a solid" if target.product_state == "solid" else "an oil"
        if melts is None or room_C <= melts.value <= room_C + SETS_ABOVE_K:
            continue
        if (melts.value < room_C) == (target.product_state == "solid"):
            yield (
                f"The {substance_word(target.substance, known)} is said to be weighed as {said}; "
                f"pure it melts at {amount(melts.value, '°C')}."
            )


def _losses(exercise: Exercise, plan: Plan, assessment: Assessment) -> Iterator[str]:
    flow = Flow(plan)
    for target in exercise.setup.targets:
        name = substance_word(target.substance, exercise.setup.tables)
        before: dict[str, float] = {}
        for number, step, report in _steps(plan, assessment):
            now = _places(report, target.substance)
            for place, words in _leaks(step):
                if flow.taken_up_later(number - 1, place):
                    continue
                gone = now.get(place, 0.0) - before.get(place, 0.0)
                if gone >= WORTH_A_WORD:
                    where = f"step {number} ({step_heading(step, exercise)})"
                    yield f"{percent(gone)} of the {name} {words} at {where}."
            before = now


def _leaks(step: Step) -> Iterator[tuple[str, str]]:
    """Places where a step may leave product, and how to say it."""
    if step.layers():
        yield step.sets_aside()[0], "goes with the layer that is not kept"
    if isinstance(step, Strip):
        yield "air", "leaves with the vapour"
    if step.pours() and not step.empties:
        yield step.acts_on, "stays in the cake"
    yield "glass", "stays on the glass"


def _places(report: StepReport, target: str) -> dict[str, float]:
    places: dict[str, float] = {}
    for share in report.trail:
        if share.target == target:
            places[share.place] = places.get(share.place, 0.0) + share.share
    return places


def _layers(exercise: Exercise, plan: Plan, assessment: Assessment) -> Iterator[str]:
    for number, step, report in _steps(plan, assessment):
        where = f"At step {number} ({step_heading(step, exercise)})"
        if report.may_invert and report.density_difference_g_mL is not None:
            gap = abs(report.density_difference_g_mL)
            yield (
                f"{where} the layers differ by only {rounded(gap, 'g/mL', 2)}: they part slowly "
                "and may change places."
            )
        if report.funnel_fill is not None and report.funnel_fill > FUNNEL_FULL:
            yield f"{where} the funnel is {percent(report.funnel_fill)} full: too full to shake."


def _target_warnings(expected: ExpectedTarget, known: Tables) -> Iterator[str]:
    points = (*expected.same_total, *expected.same_portion)
    best = max((p.recovery for p in points), default=1.0)
    if points and best < expected.recovery_goal:
        yield (
            f"Six portions recover {percent(best)} of the {expected.name}; the goal of "
            f"{percent(expected.recovery_goal)} cannot be reached with this solvent and volume."
        )
    if expected.class_band.nominal > MORE_THAN_CAN_BE * expected.theoretical_g:
        yield (
            f"This plan leads to {rounded(expected.class_band.nominal, 'g', 3)} on the balance "
            f"where {rounded(expected.theoretical_g, 'g', 3)} of {expected.name} can be: find what "
            "comes with it, for marks rest on what is weighed."
        )
    total = sum(grams for _, grams in expected.composition_g)
    for key, grams in expected.composition_g:
        if key != expected.target and total > 0 and grams / total >= WORTH_A_WORD:
            yield (
                f"{percent(grams / total)} of what is weighed as {expected.name} is "
                f"{substance_word(key.removeprefix(AGENT_PREFIX), known)}{NBSP}"
                f"({rounded(grams, 'g', 2)})."
            )
