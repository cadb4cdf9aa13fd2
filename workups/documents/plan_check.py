"""What a plan may not do: use a flask that is not there yet, or a material not on the bench."""

from collections.abc import Iterator
from dataclasses import dataclass

from workups.chemistry.fields import MAX_STEPS
from workups.chemistry.flow import Flow
from workups.chemistry.plan import START_FLASK, WASTE, FieldKind, FieldSpec, Plan, Step
from workups.exercise.exercise import Exercise

from .errors import shown
from .limits import MAX_PORTIONS
from .names import ROLE_TITLES, KnownNames, hint, names_for


@dataclass(frozen=True)
class PlanProblem:
    """A problem with one field of one step (both empty: with the plan as a whole)."""

    step_id: str
    field: str
    message: str


def check_plan(plan: Plan, exercise: Exercise) -> list[PlanProblem]:
    """Everything that keeps a plan from being carried out, in step order.

    A flask exists once the exercise or an earlier step has put something into it, and goes on
    existing when it is emptied. Nothing can be taken back from the waste.
    """
    if len(plan.steps) > MAX_STEPS:
        message = f"expected at most {MAX_STEPS} steps, found {len(plan.steps)}"
        return [PlanProblem("", "", message)]
    portions = sum(getattr(step, "portions", 0) for step in plan.steps)
    if portions > MAX_PORTIONS:
        message = f"expected at most {MAX_PORTIONS} portions in all steps, found {portions}"
        return [PlanProblem("", "", message)]
    names = names_for(exercise)
    problems: list[PlanProblem] = []
    flasks = {START_FLASK}
    for step in plan.steps:
        problems += [PlanProblem(step.id, name, said)
                     for name, said in _step_problems(step, flasks, exercise, names)]
        flasks.update(step.brings())
    return problems


def flasks_before(plan: Plan, step_id: str) -> tuple[str, ...]:
    """The flasks a step may use, oldest first; all of them where no step has this id."""
    ids = [step.id for step in plan.steps]
    return Flow(plan).flasks[ids.index(step_id) if step_id in ids else -1]


def _step_problems(step: Step, flasks: set[str], exercise: Exercise,
                   names: KnownNames) -> Iterator[tuple[str, str]]:
    for name, spec, value in step.fields():
        if spec.kind is FieldKind.FLASKS:
            yield from ((name, said) for flask in value for said in _missing(flask, flasks))
            if len(set(value)) < len(value):
                yield name, "the same flask is named twice"
            if not value:
                yield name, "expected at least one flask, found none"
        elif spec.kind is FieldKind.FLASK:
            yield from ((name, said) for said in _flask_problems(spec, value, flasks))
        elif spec.kind is FieldKind.MATERIAL and value:
            yield from ((name, said) for said in _material_problems(spec, value, exercise, names))
    if step.layers() and step.carries_on_in() == step.sets_aside():
        yield "other_in", "both layers would go to the same flask"


def _flask_problems(spec: FieldSpec, flask: str, flasks: set[str]) -> Iterator[str]:
    if not spec.names_new:
        yield from _missing(flask, flasks)
    elif flask == WASTE and not spec.may_be_waste:
        yield "this cannot go to waste: name a flask"


def _missing(flask: str, flasks: set[str]) -> Iterator[str]:
    if flask == WASTE:
        yield "nothing can be taken back from the waste: name a flask"
    elif flask not in flasks:
        yield f"flask {shown(flask)} does not exist at this point{hint(flask, flasks)}"


def _material_problems(spec: FieldSpec, material: str, exercise: Exercise,
                       names: KnownNames) -> Iterator[str]:
    own = {m.key for m in exercise.setup.own_materials}
    fitting = names.of_role(spec.role)
    if material not in fitting:
        yield (f"expected {ROLE_TITLES[spec.role]}, found {shown(material)}"
               f"{hint(material, fitting)}")
    elif material not in exercise.setup.materials and material not in own:
        offered = fitting & {*exercise.setup.materials, *own}
        yield (f"{shown(material)} is not among the materials of this exercise"
               f"{hint(material, offered)}")
