"""An exercise with its model plan carried out, put together for a page of the author's."""

from dataclasses import dataclass

from workups.documents import plan_to_data
from workups.exercise.exercise import CHECK_TITLES, Exercise
from workups.explanation.left_out import LeftOut, left_out_of
from workups.explanation.model_summary import (
    DryingLine,
    GasLine,
    drying_lines,
    gas_lines,
    plan_warnings,
)
from workups.explanation.values_used import UsedValue, values_used
from workups.grading.assessment import Assessment, CheckResult, ExpectedTarget
from workups.grading.reagent_table import ReagentLine, reagent_lines
from workups.grading.visibility import Moment
from workups.selectors.plans import PlanLine, plan_lines
from workups.selectors.student_findings import (
    ProductPlaces,
    StudentFinding,
    product_places,
    student_findings,
)
from workups.words.material_facts import MaterialFacts, material_facts
from workups.words.numbers import interval, mass, percent


@dataclass(frozen=True)
class ModelCheck:
    """A check of the model plan with its findings."""

    check: CheckResult
    findings: tuple[StudentFinding, ...]

    @property
    def title(self) -> str:
        return CHECK_TITLES[self.check.name]

    @property
    def score(self) -> str:
        return percent(self.check.score)

    @property
    def is_passed(self) -> bool:
        return self.check.score >= 1.0 - 1e-9


@dataclass(frozen=True)
class ExpectedLine:
    """What a class may expect of one target, in words."""

    target: ExpectedTarget
    theoretical: str
    band: str
    nominal: str
    of_theory: str
    recovery: str
    goal: str


@dataclass(frozen=True)
class ModelPreview:
    """Everything a page needs to show an exercise to its author."""

    exercise: Exercise
    assessment: Assessment
    lines: list[PlanLine]
    reagents: tuple[ReagentLine, ...]
    materials: list[MaterialFacts]
    checks: list[ModelCheck]
    expected: list[ExpectedLine]
    gas: tuple[GasLine, ...]
    drying: tuple[DryingLine, ...]
    warnings: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    unchecked_values: list[UsedValue]
    read_values: list[UsedValue]
    places: list[ProductPlaces]

    @property
    def points(self) -> float:
        return self.assessment.points

    @property
    def out_of(self) -> float:
        return self.assessment.out_of


def model_preview(exercise: Exercise, assessment: Assessment) -> ModelPreview:
    plan = exercise.model_plan
    values = values_used(exercise)
    readability = exercise.setup.glassware.balance_readability_g
    return ModelPreview(
        exercise=exercise,
        assessment=assessment,
        lines=plan_lines({"steps": plan_to_data(plan)}, exercise),
        reagents=reagent_lines(exercise, exercise.setup.tables),
        materials=[material_facts(key, exercise) for key in exercise.setup.materials],
        checks=[
            ModelCheck(c, tuple(student_findings(c.findings, plan, Moment.RELEASED)))
            for c in assessment.checks
        ],
        expected=[expected_line(e, readability) for e in assessment.expected],
        gas=gas_lines(exercise, plan, assessment),
        drying=drying_lines(exercise, plan, assessment),
        warnings=plan_warnings(exercise, plan, assessment),
        left_out=left_out_of(exercise),
        unchecked_values=[v for v in values if not v.is_checked],
        read_values=[v for v in values if v.is_checked],
        places=product_places(assessment, plan, Moment.RELEASED, exercise.setup.tables),
    )


def expected_line(expected: ExpectedTarget, readability_g: float) -> ExpectedLine:
    band, recovery = expected.class_band, expected.recovery
    return ExpectedLine(
        target=expected,
        theoretical=mass(expected.theoretical_g, readability_g),
        band=interval(band.low, band.high, "g"),
        nominal=mass(band.nominal, readability_g),
        of_theory=percent(band.nominal / expected.theoretical_g),
        recovery=percent(recovery.nominal) if recovery else "nothing is extracted",
        goal=percent(expected.recovery_goal),
    )
