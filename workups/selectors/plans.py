from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import QuerySet

from workups.chemistry.plan import (
    START_FLASK,
    STEP_KINDS,
    WASTE,
    Parting,
    Step,
    Tare,
    field_specs,
)
from workups.documents import check_plan, plan_from_data, step_from_data
from workups.documents.plan_check import PlanProblem
from workups.exercise.exercise import Exercise
from workups.models import PlanRevision, Work
from workups.selectors.student_findings import StudentFinding
from workups.words.sentences import step_heading, step_sentence


def plan_history(work: Work) -> QuerySet[PlanRevision]:
    """Every saved state of the plan, the newest first, those kept aside included."""
    return PlanRevision.objects.filter(work=work).select_related("saved_by").order_by("-version")


def current_plan(work: Work) -> PlanRevision | None:
    """The newest state of the plan; None before anything was saved."""
    return plan_history(work).filter(aside=False).first()


def submitted_plan(work: Work) -> PlanRevision | None:
    """The plan last handed in; None before that."""
    return plan_history(work).filter(submitted_at__isnull=False).first()


def find_plan(work: Work, version: int) -> PlanRevision | None:
    return plan_history(work).filter(version=version).first()


def plan_before(revision: PlanRevision) -> PlanRevision | None:
    """The state that a revision followed, for undoing it."""
    earlier = PlanRevision.objects.filter(
        work_id=revision.work_id, aside=False, version__lt=revision.version
    )
    return earlier.order_by("-version").first()


@dataclass(frozen=True)
class Undo:
    """What Undo takes back, in words, and the version that it brings back."""

    words: str
    to_version: int


def undo_of(revision: PlanRevision) -> Undo | None:
    """The last change that is not undone yet; handing in is not undone."""
    if revision.submitted_at is not None:
        return None
    stands: PlanRevision | None = revision
    while stands is not None and stands.undone_to is not None:
        stands = find_plan(revision.work, stands.undone_to)
    before = plan_before(stands) if stands else None
    while stands and before and before.data == stands.data:
        stands, before = before, plan_before(before)
    return Undo(stands.change, before.version) if stands and before else None


def earlier_plans(work: Work) -> list[PlanRevision]:
    """The plans of the same person's other works, the newest first."""
    others = Work.objects.filter(enrolment__person=work.student).exclude(pk=work.pk)
    plans = [current_plan(other) for other in others.order_by("-started_at")]
    return [plan for plan in plans if plan is not None and plan.data["steps"]]


# A plan as a person reads it: numbered sentences, with what is wrong beside each.


PlanStepData = dict[str, Any]


@dataclass(frozen=True)
class PlanLine:
    """One step of a plan. `heading`, its few words, and `sentence` are empty while it is not filled
    in.

    Addresses: `address` where it is open, `folded` where it is not and one stands on it, `adding`
    where one chooses what comes after it. `problems` keep the plan from being carried out;
    `findings` are what the last self-check said.
    """

    number: int
    id: str
    verb: str
    title: str
    heading: str
    sentence: str
    note: str
    is_complete: bool
    is_first: bool = False
    is_last: bool = False
    problems: tuple[PlanProblem, ...] = ()
    findings: tuple[StudentFinding, ...] = ()
    data: PlanStepData = field(default_factory=dict)
    address: str = ""
    folded: str = ""
    adding: str = ""

    @property
    def typed(self) -> dict[str, Any]:
        typed: dict[str, Any] = self.data.get("typed", {})
        return typed

    @property
    def shakes(self) -> bool:
        """Whether it parts two layers in a funnel."""
        return issubclass(STEP_KINDS[self.verb], Parting)

    @property
    def is_new(self) -> bool:
        """Added and never filled in: nothing to complain about yet."""
        return bool(self.data.get("is_new"))


def plan_lines(data: dict[str, Any], exercise: Exercise) -> list[PlanLine]:
    steps: list[PlanStepData] = list(data.get("steps", []))
    problems = plan_problems(steps, exercise)
    return [
        _line(number, step, exercise, problems, len(steps)) for number, step in enumerate(steps, 1)
    ]


def _line(
    number: int, data: PlanStepData, exercise: Exercise, problems: Iterable[PlanProblem], count: int
) -> PlanLine:
    complete = "typed" not in data
    values = data if complete else data["typed"]
    return PlanLine(
        number=number,
        id=data["id"],
        verb=data["verb"],
        title=STEP_KINDS[data["verb"]].title,
        heading=step_name(step_from_data(data), exercise) if complete else "",
        sentence=step_sentence(step_from_data(data), exercise) if complete else "",
        note=str(values.get("note", "")),
        is_complete=complete,
        is_first=number == 1,
        is_last=number == count,
        problems=tuple(p for p in problems if p.step_id == data["id"]),
        data=data,
    )


def step_name(step: Step, exercise: Exercise) -> str:
    """A few words; where nothing from the bench tells it from others, its flask does."""
    told = step_heading(step, exercise)
    return told if step.uses() or not step.acts_on else f"{told}, {step.acts_on}"


def plan_problems(steps: Sequence[PlanStepData], exercise: Exercise) -> list[PlanProblem]:
    """What keeps the plan from being carried out.

    A flask that a step not yet filled in may still bring is not complained about.
    """
    plan = plan_from_data([step for step in steps if "typed" not in step])
    found = check_plan(plan, exercise)
    first_gap = next((i for i, step in enumerate(steps) if "typed" in step), None)
    if first_gap is None:
        return found
    after_gap = {step["id"] for step in steps[first_gap:]}
    return [p for p in found if p.step_id not in after_gap or not _is_about_a_flask(p, steps)]


def _is_about_a_flask(problem: PlanProblem, steps: Iterable[PlanStepData]) -> bool:
    step = next((s for s in steps if s["id"] == problem.step_id), None)
    if step is None:
        return False
    spec = field_specs(STEP_KINDS[step["verb"]]).get(problem.field)
    return spec is not None and spec.kind.value.startswith("flask") and not spec.names_new


def flasks_at(steps: Iterable[PlanStepData], step_id: str) -> tuple[str, ...]:
    """Names of the flasks there are before a step, those typed in unfinished steps included."""
    names = [START_FLASK]
    for step in steps:
        if step["id"] == step_id:
            break
        names += [name for name in produced_by(step) if name not in names]
    return tuple(names)


def produced_by(step: PlanStepData, *, aside: bool = True) -> list[str]:
    """Flasks that a step puts something into, in field order, the waste left out; without
    ``aside`` those only that take what the plan goes on with."""
    values = step.get("typed", step)
    specs = field_specs(STEP_KINDS[step["verb"]])
    asked = [name for name, spec in specs.items() if spec.names_new and (aside or not spec.aside)]
    named = [str(values.get(name) or "").strip() for name in asked]
    return [name for name in named if name not in ("", WASTE)]


def last_product_flask(steps: Iterable[PlanStepData]) -> str:
    """Where the last step put what it kept; the next step most likely goes on there."""
    filled = (step for step in steps if step["verb"] != Tare.verb)  # nothing goes in at a tare
    kept = [name for step in filled for name in produced_by(step, aside=False)[:1]]
    return kept[-1] if kept else START_FLASK
