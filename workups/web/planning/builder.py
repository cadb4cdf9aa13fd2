"""What the plan builder shows: lines, the open step's form, the menu of verbs."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from workups.chemistry.plan import STEP_KINDS, FieldKind, StepGroup, field_specs
from workups.documents import plan_from_data
from workups.grading.exercise import Exercise, FeedbackPolicy
from workups.grading.visibility import Moment, shown_steps
from workups.models import PlanRevision, SelfCheck, Work
from workups.selectors.plan_lines import (
    PlanLine,
    flasks_at,
    last_product_flask,
    plan_lines,
    plan_problems,
)
from workups.selectors.plans import current_plan, plan_before, submitted_plan
from workups.selectors.self_checks import last_self_check, policy_of
from workups.selectors.student_findings import (
    StudentFinding,
    findings_by_step,
    student_checks,
)
from workups.selectors.works import dates_of
from workups.services.plan_edits import StepData, steps_of
from workups.services.planning import EMPTY_PLAN
from workups.services.self_checks import shown_of
from workups.sheets.scheme import scheme_figure
from workups.sheets.svg import Figure
from workups.web.access import CourseAccess
from workups.web.step_forms import FlaskLists, StepForm, TypedData


@dataclass(frozen=True)
class VerbGroup:
    """A row of the menu: what the verbs have in common, and the verbs."""

    title: str
    verbs: list[tuple[str, str]]


def verb_menu() -> list[VerbGroup]:
    return [
        VerbGroup(
            group.value,
            [(verb, kind.title) for verb, kind in STEP_KINDS.items() if kind.group is group],
        )
        for group in StepGroup
    ]


def plan_data(work: Work) -> Mapping[str, Any]:
    plan = current_plan(work)
    return plan.data if plan else EMPTY_PLAN


def open_form(work: Work, line: PlanLine, data: Any = None) -> StepForm:
    """The form of a step: as sent, else with what stands in it and what is wrong there."""
    values = line.data if line.is_complete else line.typed
    if data is None and not line.is_new:
        data = TypedData(values)
    steps = [dict(step) for step in steps_of(plan_data(work))]
    form = StepForm(
        data,
        verb=line.verb,
        step_id=line.id,
        exercise=work.to_core(),
        flasks=FlaskLists(flasks_at(steps, line.id)),
        initial=values,
    )
    form.focus_first()
    return form


def say_problems(form: StepForm, line: PlanLine) -> None:
    """Put what the step has wrong as part of the plan beside the fields concerned.

    A step that is being filled in for the first time is not told which fields are still empty.
    """
    if not form.is_bound:
        return
    if line.is_new:
        for name, errors in list(form.errors.items()):
            if all(error.code == "required" for error in errors.as_data()):
                del form.errors[name]
    for problem in line.problems:
        form.add_error(problem.field if problem.field in form.fields else None, problem.message)


def new_step(verb: str, step_id: str, data: Mapping[str, Any]) -> StepData:
    """A step just added: the defaults of the trade, but neither layer nor material chosen."""
    steps = [dict(step) for step in steps_of(data)]
    typed: dict[str, Any] = {}
    specs = field_specs(STEP_KINDS[verb])
    for name, spec in specs.items():
        default = STEP_KINDS[verb].__dataclass_fields__[name].default
        if spec.kind is not FieldKind.MATERIAL and name != "keep" and isinstance(
                default, str | int | float):
            typed[name] = default
    first = next(iter(specs.items()))
    if first[1].kind is FieldKind.FLASK and not first[1].produces:
        typed[first[0]] = last_product_flask(steps)
    return {"id": step_id, "verb": verb, "typed": typed, "is_new": True}


def builder_context(
    access: CourseAccess, work: Work, open_id: str = "", form: StepForm | None = None
) -> dict[str, Any]:
    plan = current_plan(work)
    exercise = work.to_core()
    lines = plan_lines(dict(plan.data) if plan else dict(EMPTY_PLAN), exercise)
    checked = last_self_check(work)
    notes = findings_of_check(checked, work) if checked else {}
    lines = [replace(line, findings=tuple(notes.get(line.id, ()))) for line in lines]
    opened = next((line for line in lines if line.id == open_id), None)
    if opened is not None:
        form = form or open_form(work, opened)
        say_problems(form, opened)
    return {
        "access": access,
        "work": work,
        "exercise": exercise,
        "plan": plan,
        "version": plan.version if plan else 0,
        "lines": lines,
        "open_id": opened.id if opened else "",
        "form": form,
        "is_frozen": work.bench_record_id is not None,
        "verb_groups": verb_menu(),
        "undo_to": undo_target(plan),
        "unfinished": sum(not line.is_complete for line in lines),
        "problem_count": sum(len(line.problems) for line in lines),
        "too_much": problems_of_the_whole(plan, exercise),
        "submitted": submitted_plan(work),
        "policy": policy_of(work),
        "checked": checked,
        "changed_since_check": checked is not None
        and plan is not None
        and checked.plan_revision.data != plan.data,
        "dates": dates_of(work),
        "scheme": plan_scheme(work, plan, checked),
    }


def plan_scheme(work: Work, plan: PlanRevision | None, checked: SelfCheck | None) -> Figure | None:
    """The scheme of the plan as far as it is filled in: what its steps say, and with shares where
    the last self-check was about this very plan and the policy shows them."""
    steps = plan.data["steps"] if plan else []
    gap = next((i for i, step in enumerate(steps) if "typed" in step), len(steps))
    if not gap:
        return None
    said = None
    if plan and checked and checked.plan_revision.data == plan.data:
        said = shown_of(checked, work) if checked.detail == "all but the answer" else None
    return scheme_figure(
        work.to_core(),
        plan_from_data(steps[:gap]),
        shown_steps(said, Moment.PLANNING) if said else (),
        shares_only=True,
        link=lambda step: f"#step-{step.id}",
    )


def problems_of_the_whole(plan: PlanRevision | None, exercise: Exercise) -> list[str]:
    """What is wrong with no step alone: more steps or portions than a plan may have."""
    found = plan_problems(plan.data["steps"], exercise) if plan else []
    return [problem.message for problem in found if not problem.step_id]


def findings_of_check(checked: SelfCheck, work: Work) -> dict[str, list[StudentFinding]]:
    """What a self-check said, as far as the exercise lets it be said, by step."""
    said = shown_of(checked, work)
    if said is None:
        return {}
    policy, plan = FeedbackPolicy(detail=checked.detail), checked.plan_revision.to_core()
    return findings_by_step(student_checks(said, policy, plan, Moment.PLANNING))


def undo_target(plan: PlanRevision | None) -> PlanRevision | None:
    """The state before the last change; submitting is not undone."""
    if plan is None or plan.submitted_at is not None:
        return None
    return plan_before(plan)


def plan_is_sound(work: Work) -> bool:
    """Whether the plan can be carried out as written: every step filled in, no problem."""
    plan = current_plan(work)
    if plan is None or not plan.is_complete:
        return False
    return not plan_problems(plan.data["steps"], work.to_core())
